"""Laid ways made into a harness: couplings, conductors, colours, lengths, connectors.

In: a placed train and the current of each net. Out: a `model.wired.Harness` of wires with ends, legs,
gauges, colours and lengths to cut; what crosses each coupling.

`coupling_slack`, `worst_pose` and `track_line` say how long wires over a coupling must be on curve and crest;
`chains` and `wires` join segments; `lengths` adds what the bench adds; `couplers` finds connector pairs.

Begin with `harness.wire_train`.
"""
