"""Which pin of the controller serves which net.

In: a train and its chosen parts. Out: a pin for every wish (`matching`), what helps where one is left
over (`remedies`), and the C header of the pin names (`header`).

`wants` reads from the nets what a pin must be able to do; `assignment` solves the matching of least cost.

Begin with `matching.match_pins`.
"""
