"""An attack on the joint decision: whole trains on a coarse grid, where all choices can be listed.

Two or three vehicles with bricks that may come out (`tests.attack.vehicles`), two or three parts, nets of
every style and random weights. Every way to share the parts out is listed, each vehicle's share is put in by
plain enumeration over grid cells and over all sets of bricks, and costed. What depends on where in a vehicle
a part lies (wire, balance) weighs nothing here. Held against that: the verdict on the train, what the choice
costs and that none is cheaper, and the fit table, which may not refute what the choice places, or the other
way round. The checker holds each place of that table, and what boxes tell of the rest.

    python -m tests.attack.trains [COUNT]
"""

from __future__ import annotations

import itertools
import random
import sys
from collections import Counter
from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow
from fitplan.model.train import Train, Weights
from fitplan.model.wired import Harness
from fitplan.planning.choice import Choosing, decide
from fitplan.planning.fit_table import fit_rows
from fitplan.planning.run_state import PlanningRun
from fitplan.verify.fit_rows import check_fit_rows
from fitplan.verify.result import Tally
from tests.attack.choices import STYLES, conductors
from tests.attack.vehicles import Case, cheapest, make_case
from tests.packing.small_trains import train_of

WEIGHTS = (0.1, 1.0, 50.0, 1000.0)
Held = tuple[float | None, bool]
"""The least cost of bricks with which parts go into a vehicle, and whether any bricks out would do."""


class Listed:
    """A train, and what an enumeration says of each vehicle with each set of its parts."""

    def __init__(self, seed: int) -> None:
        dice = random.Random(seed)
        count = dice.randint(2, 3)
        bodies = [_on_grid(dice) for _ in range(count)]
        drawn = [_on_grid(dice) for _ in range(dice.randint(2, 3))]
        parts, self.sizes, self.rooms = [], [], []
        for number, case in enumerate(drawn):
            pick = dice.randrange(len(case.parts))
            parts.append(replace(case.parts[pick], id=f"p{number}"))
            self.sizes.append(case.sizes[pick])
            self.rooms.append(case.rooms[pick])
        self.bodies: dict[str, Case] = {}
        for number, case in enumerate(bodies):
            kind = "wagon" if number else "loco"
            vehicle = replace(case.vehicle, name=f"v{number}", kind=kind)  # type: ignore[arg-type]
            self.bodies[vehicle.name] = replace(case, vehicle=vehicle)
        self.train = _train(dice, tuple(case.vehicle for case in self.bodies.values()), parts)
        self._held: dict[tuple[str, tuple[int, ...]], Held] = {}

    def held(self, vehicle: str, numbers: tuple[int, ...]) -> Held:
        """Return what bricks parts cost in a vehicle, by enumeration."""
        if (vehicle, numbers) not in self._held:
            case = replace(
                self.bodies[vehicle],
                parts=tuple(self.train.needs[n].candidates[0] for n in numbers),
                sizes=tuple(self.sizes[n] for n in numbers),
                rooms=tuple(self.rooms[n] for n in numbers),
                grown=0.0,
            )
            self._held[vehicle, numbers] = cheapest(case)
        return self._held[vehicle, numbers]

    def least(self) -> tuple[float | None, bool]:
        """Return what the cheapest choice costs, None where none surely goes, and whether any has room."""
        best: float | None = None
        any_room = False
        names = list(self.bodies)
        for homes in itertools.product(names, repeat=len(self.train.needs)):
            shares = {
                name: tuple(n for n, home in enumerate(homes) if home == name)
                for name in dict.fromkeys(homes)
            }
            bricks = [self.held(name, numbers) for name, numbers in shares.items()]
            any_room |= all(room for _, room in bricks)
            costs = [cost for cost, _ in bricks if cost is not None]
            if len(costs) == len(bricks):
                cost = self.cost(
                    dict(zip((n.name for n in self.train.needs), homes, strict=True)), sum(costs)
                )
                best = cost if best is None else min(best, cost)
        return best, any_room

    def cost(self, homes: dict[str, str], bricks: float) -> float:
        """Return what a choice of homes costs."""
        weights = self.train.weights
        return (
            weights.vehicles_opened * len(set(homes.values()))
            + weights.conductors_across * sum(conductors(self.train, net, homes) for net in self.train.nets)
            + weights.bricks_removed * bricks
        )


def _on_grid(dice: random.Random) -> Case:
    """Draw a vehicle with parts that are as large as their cells."""
    while True:
        case = make_case(dice.randrange(10**6))
        if case.grown == 0.0:
            return case


def _train(dice: random.Random, vehicles: tuple[object, ...], parts: list[Part]) -> Train:
    needs = tuple(Need(f"n{k}", (part,)) for k, part in enumerate(parts))
    nets = tuple(
        (f"net{k}", tuple(f"n{i}.p0" for i in dice.sample(range(len(parts)), dice.randint(2, len(parts)))))
        for k in range(2)
    )
    train = train_of(vehicles, needs, nets)  # type: ignore[arg-type]
    return replace(
        train,
        nets=tuple(replace(net, style=dice.choice(STYLES)) for net in train.nets),
        weights=Weights(
            vehicles_opened=dice.choice(WEIGHTS),
            wagons_added=0.0,
            conductors_across=dice.choice(WEIGHTS),
            bricks_removed=dice.choice(WEIGHTS),
            wire_metres=0.0,
            mass_off_balance=0.0,
        ),
    )


def attack(seed: int) -> tuple[str, list[str]]:
    """Return what was said of a train, and what contradicts."""
    listed = Listed(seed)
    train = listed.train
    run = PlanningRun.of(train)
    choosing = decide(
        train, run.pack, lambda parts: "", holds=run.holds, budget=run.options.budget.share("choice")
    )
    best, any_room = listed.least()
    bad = _against_fit(choosing, run)
    if choosing.best.left_out:
        if choosing.verdict == "cannot fit" and any_room:
            bad.append("cannot fit is said of a train that holds all")
        return choosing.verdict, bad
    said = choosing.best.costs.score(train.weights)
    bricks = sum(packing.cost for packing in choosing.best.packings)
    own = listed.cost({p.need.name: p.vehicle for p in choosing.best.picks}, bricks)
    if abs(own - said) > 1e-3:
        bad.append(f"the choice is said to cost {said}, and costs {own}")
    if best is None:
        bad.append("places are told where the enumeration finds none")
    elif said < best - 1e-3:
        bad.append(f"{said} is less than the least there is, {best}")
    elif choosing.proved and said > best + 1e-3:
        bad.append(f"{said} is called the least, and {best} would do")
    return choosing.verdict if choosing.proved else "not proved the least", bad


def _against_fit(choosing: Choosing, run: PlanningRun) -> list[str]:
    """Return where the fit table and the choice contradict each other."""
    rows = fit_rows(run.train, run.packer, run.options.budget, every=True)
    sheet = Tally()
    check_fit_rows(_plan_of(run.train, rows), sheet)
    told = [f"{problem.where}: {problem.message}" for problem in sheet.report().problems]
    said = {(row.need, row.vehicle): row.verdict for row in rows}
    found = [
        f"{pick.need.name} is placed in {pick.vehicle}, and the fit table refutes it"
        for pick in choosing.best.picks
        if pick.part is not None and said[pick.need.name, pick.vehicle] == "cannot fit"
    ]
    for need in run.train.needs:
        verdicts = {said[need.name, entry.name] for entry in run.train.vehicles}
        if verdicts == {"cannot fit"} and choosing.verdict != "cannot fit":
            found.append(f"{need.name} fits nowhere, and of the train {choosing.verdict} is said")
    return found + told


def _plan_of(train: Train, rows: tuple[FitRow, ...]) -> Plan:
    """Return a plan that holds a fit table and nothing else, for the checker."""
    return Plan(
        built=BuiltTrain(train, (), Harness(), ()),
        verdict="fits",
        fit=rows,
        assembly=(),
        assembly_blocked=(),
        options=(),
        outcomes=(),
    )


def main(count: int) -> int:
    """Attack with so many trains and print the table; return the number of contradictions."""
    said: Counter[str] = Counter()
    contradictions = 0
    for seed in range(count):
        verdict, bad = attack(seed)
        said[verdict] += 1
        contradictions += len(bad)
        for text in bad:
            print(f"train {seed}: {verdict}: {text}", flush=True)
    print(f"{count} trains: " + ", ".join(f"{n} {verdict}" for verdict, n in sorted(said.items())))
    undecided = said["not decided"] + said["not proved the least"]
    print(f"contradictions {contradictions}; undecided {undecided / max(count, 1):.1%}")
    return contradictions


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 180) > 0)
