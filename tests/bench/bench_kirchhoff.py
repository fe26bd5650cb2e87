"""Kirchhoff's law at every net and part of random trains.

Run ``python -m tests.bench.bench_kirchhoff [COUNT]``. Prints the largest current (mA) that flows into a net
or a part and not out again, by the label's volts and as solved at three states of charge.
"""

from __future__ import annotations

import sys
from functools import partial

from fitplan.circuit.cells import source_of
from fitplan.circuit.currents import by_label
from fitplan.circuit.discharge import solve_state
from fitplan.circuit.draws import by_flow, end_currents
from fitplan.circuit.supply import build_supply
from tests.circuit.test_draws import random_train, sums

CHARGES = (1.0, 0.7, 0.3)


def main() -> None:
    """Print how many trains were drawn, and the largest sum that is not zero."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    worst, greatest, nodes = 0.0, 0.0, 0
    for seed in range(count):
        made = random_train(seed)
        supply = build_supply(made, {})
        (tree,) = supply.trees
        for peak in (False, True):
            ways = [partial(by_label, peak=peak)]
            for charge in CHARGES:
                state = solve_state(source_of(tree.source), tree.root, charge, peak, {})
                ways.append(lambda _, flow=state.flow: by_flow(flow))  # type: ignore[arg-type, misc]
            for drawn in ways:
                ends = end_currents(made, {}, supply, drawn, peak)
                totals = [*sums(ends, 0).values(), *sums(ends, 1).values()]
                worst = max(worst, *(abs(total) for total in totals))
                greatest = max(greatest, *(abs(current) for current in ends.values()))
                nodes += len(totals)
    print(f"{count} random trains, {nodes} sums at nets and parts")
    print(f"at most {worst:.1e} mA are left over; the largest current is {greatest:.0f} mA")


if __name__ == "__main__":
    main()
