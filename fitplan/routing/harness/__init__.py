"""Laid ways made into a harness: couplings, conductors, colours, lengths, connectors."""
