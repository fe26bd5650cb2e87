"""Where wires can go: ways, trees, bundles, couplings, lengths."""
