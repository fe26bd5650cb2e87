"""Everything a user may say and planning finds out, as frozen values that know nobody.

In: nothing. Out: the values that every other room takes and returns.

What a user says: `vehicle` (a body of layers and solids, openings, windows, ports, couplings, wheels,
built-in things), `part` with `electrical` (envelopes, clearances, mounts, pins, figures) and `train`
(which vehicles run, what is needed in them, nets, track, running, weights of the choice). What is found
out: `plan`. Geometry that all share is in `solids`: boxes, cylinders and wedges in mm, directions, the 24
right-angled turnings; `copper` is what a wire of a gauge is.

Begin with `train.Train` and `plan.Plan`. Lengths are mm, other units stand in the name (`mass_g`). A
vehicle's x runs to its front, y to its left, z up from the rail head.
"""
