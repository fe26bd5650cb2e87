"""Drawings in millimetres: layers, steps, the train, the wiring.

In: a plan. Out: a `drawing.Drawing` (a list of shapes with named inks), written as SVG or, by `pdf`, on a
page at 1:1, the same bytes each time. `slices` cuts a body into layers; `scene` is the page's train as
figures; `wire_ways` draws wires of a bundle beside one another.

Begin with `drawing.Drawing` and `layer_drawing.layer_drawing`.
"""
