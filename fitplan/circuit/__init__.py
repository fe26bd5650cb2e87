"""Nets as circuits: who feeds whom, how many milliamperes flow, at how many volts, for how long.

In: a train and the parts chosen for its needs. Out: supply trees, the current of every net, a discharge
over time.

`joins` resolves what nets join; `supply` builds a tree for each source (switch or fuse, regulator, board,
loads); `currents` gives what each net carries; `chain` follows volts down a tree, `leads` adds what the
wires drop; `discharge` integrates over the state of charge with the cell curves of `cells`.

Begin with `supply.build_supply`. No findings are made here: checks word them.
"""
