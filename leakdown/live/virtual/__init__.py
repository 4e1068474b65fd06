"""A simulated gauge on a pseudo-terminal or a TCP port."""
