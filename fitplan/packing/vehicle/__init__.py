"""Parts in one vehicle: seats that mounts allow, packing, support, what is missing, the least rebuild.

In: a vehicle, the parts wanted in it, bricks taken out, what must stay clear for wires. Out: a
`packing.Packing` with a verdict, places and a proof where there is one.

`seats` lists poses and offsets that a part's mounts and its need allow; `room_for_parts` rounds the vehicle
both ways, `packed_items` makes items of parts; `pack.Packer` asks the engine and remembers; where that gives
up or wires are long, `roomy_places` lays parts loosely (`part_places` from `place_grid`, judged by `wishes`);
`lowering` lets parts down until something carries them, `bores` tells what lies in a round bore, `additions`
carries what hangs;
`rebuild` takes out the cheapest bricks; `reachable_packing` and `reserved_ways` keep ways open to what is
exchanged often; `box_shortage` and `shortage` say what is missing.

Begin with `pack.Packer` and `rebuild.pack_with_rebuild`.
"""
