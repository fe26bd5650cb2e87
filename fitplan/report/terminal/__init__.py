"""What stands on the terminal and in the plain-text summary."""
