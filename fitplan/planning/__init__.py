"""Where places and wires meet: the choice over the train, the run of a plan, what else would fit.

In: a train and options. Out: a `model.plan.Plan`.

`run.plan_train` is the whole middle: it asks `choice` which part goes into which vehicle (bounded best
first, with `costs` and `suitability`), places and wires them, lets checks speak, and asks what else would
fit (`fit_table`). `second_process` takes what the first need not wait for; `sweep` asks of many parts at
once.

Begin with `run.plan_train`.
"""
