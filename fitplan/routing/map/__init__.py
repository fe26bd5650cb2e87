"""A vehicle's free room for wires: voxels, ends, ports, narrow places, where splices may be."""
