"""What is done with a plan at the bench before a train runs.

In: a built train, its supply trees, what the checks found. Out: frozen values of `fitplan.model`.

`order_of_work` puts parts and wires into one sequence: `loom` is the wires of a vehicle as they hang
together, `reach` what gets at a pin and how far wires reach, `work_search` the order of the parts.

`copper` is the harness as a network of resistances with the parts in it, `neighbours` says what lies side by
side, `continuity` and `isolation` choose the readings without cells, `power` those with cells, `coverage`
plants every single fault and counts which are told, `sequence` puts all in order; `judging` holds readings
against it.

Begin with `sequence.meter_plan`. No findings are made here: checks make them.
"""
