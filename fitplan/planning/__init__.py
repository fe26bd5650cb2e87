"""Where places and wires meet: the choice over the train, the run of a plan, what else would fit.

In: a train and options. Out: a `model.plan.Plan`.

`run.plan_train` is the whole middle, stages as functions over one `run_state.Run`, which remembers what was
learned: `choice` decides which part goes into which vehicle (`choice_search`, best first, with the bounds of
`choice_bound`, the `costs` and `suitability`; one that is whole is `chosen`); `place_and_wire` lays parts and
wires; `what_else` asks for the choices that were not taken and for the `fit_table`; `left_out` says why a
part found no place. `sweep` asks of many parts at once.

Begin with `run.plan_train`.
"""
