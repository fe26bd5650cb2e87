"""The printed sheets at 1:1."""
