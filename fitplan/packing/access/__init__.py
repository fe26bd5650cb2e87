"""Ways in and out: which part comes out by which moves, in which order, past what.

In: a vehicle, its removed bricks, placed parts. Out: steps of assembly (`way_in`), what must come out
before what is exchanged often (`exchange`), the offsets from which a part can leave at all
(`reachable_offsets`).

A part is a point among boxes of forbidden offsets (`slide`), in whole tenths of a millimetre;
`opened_body` is the body while a lid is off, `disassembly` the vehicle while parts are taken out one by
one.

Begin with `way_in.assembly_order`.
"""
