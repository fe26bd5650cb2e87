"""A vehicle's free room for wires: ends, ports, narrow places, where splices may be.

In: a placed train. Out: `vehicle_map.VehicleMap` (free voxels with their clear radius, ends at pins and
ports), the nets resolved to pins (`ends`), proofs that a place is too narrow (`narrow_places`), how thick
a bundle is and what goes through a port (`bundles`).

`handedness` says whether a map or its mirror image is solved; `topology` holds the words that harness and
trees share.
"""
