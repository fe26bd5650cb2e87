"""Nets of three and more ends in one vehicle: which wires they are made of, and where they branch."""
