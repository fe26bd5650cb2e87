"""All wires of a vehicle at once, and of the train vehicle by vehicle.

In: nets with their ends, gauges. Out: a `layout.Layout`: laid segments with voxel ways and taut ways,
what squeezes, what has no way.

`train_wiring.lay_out` gives out ports over the couplings (`lanes`), then wires each vehicle
(`vehicle_wiring`): nets become segments (`net_joining`), `negotiate` prices what is overfull until nothing
is (who uses what: `share_table`), `pulled` pulls taut.

Begin with `train_wiring.lay_out`.
"""
