"""Nets of three and more ends in one vehicle: which wires they are made of, and where they branch.

In: a vehicle's map and what a net joins there. Out: trees over voxels (`voxel_trees`) and the wires of
every net (`net_wiring`, over the ways that `net_ways` keeps), with a note where one is not proved shortest.

`tree_search` has the greedy and the exact search by labels, `steiner` the search over terminals and sites
with `reductions` and `tree_bounds`; `chain_orders` strings pins for daisy chains.

Begin with `net_wiring.NetWiring`.
"""
