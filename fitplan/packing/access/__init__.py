"""Ways in and out: which part comes out by which moves, in which order, past what.

In: a vehicle, its removed bricks, placed parts. Out: steps of assembly (`way_in`), what must come out
before what is exchanged often (`exchange`), the offsets from which a part can leave at all
(`reachable_offsets`).

`openings` are the ways into a vehicle: declared openings, and sides where no brick is. Moves are straight,
never a turn: up to three are searched exactly (`slide`), more through joined boxes (`long_ways`).

A part is a point among boxes of forbidden offsets, in whole tenths of a millimetre;
`opened_body` is the body while a lid is off, `disassembly` the vehicle while parts are taken out one by
one.

Begin with `way_in.assembly_order`.
"""
