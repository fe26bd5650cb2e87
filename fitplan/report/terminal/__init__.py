"""What stands on the terminal and in the plain-text summary.

In: plans, fit rows, outcomes, parts, clear spaces. Out: tables printed to a console; text. `tables` has a
function for each command that plans or checks, `train_tables` and `catalogue_tables` show what was read,
`layer_text` draws layers in characters, `summary` is what a person reads
first.
"""
