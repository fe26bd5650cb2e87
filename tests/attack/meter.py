"""Every single open, short and swap planted into a simulated harness: which do the plan's readings tell?

    python -m tests.attack.meter [EXAMPLE …] [--seeds N]

The harness is a network of resistors (`tests.workbench.resistor_network`); its readings are judged as
`fitplan test` judges them. Printed are faults of each kind, how many were told, and which were not.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fitplan.files.find import example_names, find_train
from fitplan.files.read import read_train
from fitplan.model.electrical import Fuse, Switch
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.workbench.judging import judge
from tests.workbench.resistor_network import Bench, Place, side_by_side

_CELLS_IN = ("source", "power")


@dataclass(frozen=True)
class Planted:
    """One fault, its kind, and whether a reading was wrong."""

    kind: str
    what: str
    told: bool


def told(plan: Plan, bench: Bench) -> bool:
    """Return whether a reading without cells is wrong on this bench."""
    tests = [test for test in plan.meter.tests if test.stage not in _CELLS_IN]
    return bool(judge(plan.meter, {test.number: bench.read(test) for test in tests}).wrong)


def planted(plan: Plan, seed: int) -> Iterator[Planted]:
    """Plant every fault, one at a time, and yield what became of it."""

    def tried(kind: str, what: str, damage: Callable[[Bench], None]) -> Planted:
        bench = Bench(plan.built, seed)
        damage(bench)
        return Planted(kind, what, told(plan, bench))

    yield tried("sound", "nothing", lambda bench: None)
    sound = Bench(plan.built, seed)
    for place, lead in enumerate(sound.leads):
        yield tried(
            "open", f"wire {lead.number}", lambda b, place=place: setattr(b.leads[place], "whole", False)
        )  # type: ignore[misc]
    contacts = {end[:2] for lead in sound.leads for end in lead.ends if end[2]}
    for contact in sorted(contacts):
        yield tried("contact", f"{contact[0]} cavity {contact[1]}", lambda b, c=contact: b.apart.add(c))  # type: ignore[misc]
    for one, other in side_by_side(plan.built):
        if _same_copper(sound, one, other):
            continue
        name = f"{one[0]} {one[1]} and {other[1]}"
        yield tried("short", name, lambda b, a=one, c=other: b.bridges.append((a, c)))  # type: ignore[misc]
        ends = {end for lead in sound.leads for end in lead.ends}
        if one in ends and other in ends and not _in_line(plan, one):
            yield tried("swap", name, lambda b, a=one, c=other: b.exchange(a, c))  # type: ignore[misc]


def _same_copper(bench: Bench, one: Place, other: Place) -> bool:
    """Return whether two places are one piece of copper: a bridge and a swap there are no faults."""
    near: dict[Place, set[Place]] = {}
    joins = [(lead.ends[0], lead.ends[1]) for lead in bench.leads if not sum(lead.in_end)]
    joins += [(a, b) for switch, a, b, ohm in bench.inner if not switch and ohm < 0.01]
    for a, b in joins:
        near.setdefault(a, set()).add(b)
        near.setdefault(b, set()).add(a)
    seen, stack = {one}, [one]
    while stack:
        fresh = near.get(stack.pop(), set()) - seen
        seen |= fresh
        stack.extend(fresh)
    return other in seen


def _in_line(plan: Plan, place: Place) -> bool:
    """Return whether a part is the same both ways round: a switch, a fuse."""
    placement = plan.built.placement(place[0])
    return placement is not None and any(placement.part.figure(kind) for kind in (Switch, Fuse))


def main() -> None:
    """Try the examples and print a table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("examples", nargs="*", default=example_names())
    parser.add_argument("--seeds", type=int, default=3)
    asked = parser.parse_args()
    for name in asked.examples:
        plan = plan_train(read_train(find_train(name)))
        found = [one for seed in range(asked.seeds) for one in planted(plan, seed)]
        counts = []
        for kind in ("sound", "open", "contact", "swap", "short"):
            mine = [one for one in found if one.kind == kind]
            counts.append(f"{kind} {sum(one.told for one in mine)}/{len(mine)}")
        print(f"{name}: {len(plan.meter.tests)} readings; told: {', '.join(counts)}")
        for text in sorted({f"{one.kind}: {one.what}" for one in found if one.told == (one.kind == "sound")}):
            print(f"    not as it must be: {text}")


if __name__ == "__main__":
    main()
