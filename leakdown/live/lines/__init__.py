"""One line of a gauge's text, looked at by itself. Pure."""
