"""What `leakdown log` does in the terminal: plan, run, screen, keys, closing."""
