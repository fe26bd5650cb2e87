"""The stud-grid voxel model of a vehicle: frames, masks, solids drawn into them, distances."""
