"""Mutation testing by room: small faults are planted one at a time, and the room's tests must notice them.

    python -m tests.mutation packing --seed 1 --count 50

First the room's tests run once and it is noted which of them reach which line, at what cost (kept between
runs with ``--reach FILE``). Then a sample of all possible faults is drawn, the same for one seed. Each is
planted in a process split off from one that has everything loaded, by exchanging the code of one function,
and only the tests that reach its line run, the cheapest first, until one fails. Processor time is limited,
never the clock.

Begin with `operators` (what faults there are), then `planting`, `reach` and `session`.
"""
