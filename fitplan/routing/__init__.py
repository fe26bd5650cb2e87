"""Where wires can go: ways, bundles, trees, couplings and lengths over the free space of a train."""
