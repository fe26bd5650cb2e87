"""Mutation testing by room: small faults are planted one at a time, and the room's tests must notice them.

    python -m tests.mutation packing --seed 1 --count 40 --for-s 500

First the room's tests run once and it is noted which of them reach which line, at what cost. Then a sample
of all possible faults is drawn, the same for one seed and spread over the whole room; it is planted in an
order of chance, so a part of it is a fair sample as well. Each fault is planted in a process split off from
one that has everything loaded, by exchanging the code of one function, and only the tests that reach its
line run, the cheapest first, until one fails. What was noted and what came of a sample is kept outside the
checkout; the same command goes on where it ended, and ``--again`` plants those once more that were not
noticed.

Begin with `operators` (what faults there are), then `planting`, `reach`, `sample` and `session`.
"""
