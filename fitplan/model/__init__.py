"""Everything a user may say and planning finds out, as frozen values that know nobody.

In: nothing. Out: the values that every other room takes and returns.

What a user says: `vehicle` (a body of layers and solids, openings, windows, ports, couplings, wheels,
built-in things), `part` with `electrical` (envelopes, clearances, mounts, pins, figures) and `train`
(which vehicles run), with what is `needed` in them, `nets`, `operation` (track and running), `wiring` and
what is `on_hand`. What is found out, in the order of the stages: `placed`, `ways_in`, `wired`, `pins_used`,
together `built`; what checks have `found`, what is `proposed`; all of it is the `plan`. Geometry
that all share is in `solids`: boxes, cylinders and wedges in mm, directions, the 24 right-angled turnings;
`spans` says where straight lines enter and leave them; `copper` is what a wire of a gauge is.

Begin with `train.Train` and `plan.Plan`. Lengths are mm, other units stand in the name (`mass_g`). A
vehicle's x runs to its front, y to its left, z up from the rail head.
"""
