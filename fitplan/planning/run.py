"""The pipeline: a train in, a plan out; each stage takes what the stage before it made.

::

    Train ─> choice of parts and vehicles ─> places ─> pin map ─> harness ─> way in ─> checks ─> Plan
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace

from fitplan.budget import LATE, Budget
from fitplan.checks import run_checks
from fitplan.circuit.currents import NetCurrent, net_currents
from fitplan.kernels import reused_memory
from fitplan.model.plan import (
    AssemblyStep,
    BuiltTrain,
    FitRow,
    Harness,
    Option,
    Placement,
    Plan,
    Rebuild,
)
from fitplan.model.train import Train, TrainVehicle
from fitplan.packing.access.exchange import exchanges
from fitplan.packing.access.way_in import assembly_order
from fitplan.packing.vehicle.pack import Packer, Packing
from fitplan.packing.vehicle.reachable_packing import ReachablePacker
from fitplan.packing.vehicle.seats import Wanted
from fitplan.pins.matching import PinMatch, match_pins
from fitplan.planning.choice import Choosing, decide
from fitplan.planning.fit_table import fit_rows, may_go
from fitplan.planning.second_process import begin
from fitplan.planning.suitability import Suitability
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.harness import wire_train
from fitplan.routing.negotiation.layout import Layout

Progress = Callable[[str, float], None]
"""Told the name of the stage and the share of the work done, 0 to 1."""

ADDED_WAGON = "added wagon"
TRIES = 4
"""So often the parts may make way for wires and for each other's way in."""


@dataclass(frozen=True)
class PlanOptions:
    """What the searches may spend together, and their seed."""

    budget: Budget = field(default_factory=Budget.usual)
    seed: int = 0


def plan_train(
    train: Train,
    options: PlanOptions | None = None,
    progress: Progress | None = None,
    beside: Executor | None = None,
) -> Plan:
    """Place every part, run every wire and check the result.

    A train that cannot be completed is planned as far as it goes; `Plan.complete` tells, and
    `Plan.unplaced` and `Plan.built.harness.unreached` say why.

    Parameters
    ----------
    progress
        Told how far the work has come.
    beside
        A process of its own (`fitplan.planning.second_process`): what else would fit is asked there while
        wires run.
    """
    options = options or PlanOptions()
    tell = progress or (lambda stage, share: None)
    widened, added = _with_added_wagon(train)
    run = _Run(widened, options)

    tell("choosing parts and places", 0.02)
    choosing = _choose(run, added)
    best = choosing.best
    if added & {place.vehicle for place in best.placements}:
        train = widened

    tell("running wires", 0.35)
    aside = run.copy()
    what_else = begin(beside, ask_what_else, choosing, aside)
    chosen = {pick.need.name: pick.part for pick in best.picks if pick.part is not None}
    match = match_pins(train, chosen)
    wired = _wired(train, best.packings, match, net_currents(train, chosen), run)
    built = wired.built
    with reused_memory():
        styles = options.budget.ending("styles of wiring")
        facts = wiring_facts(built, wired.layout, deadline=styles.until)
        late = choosing.late or styles.late
    built = replace(built, harness=replace(built.harness, facts=facts))

    tell("asking what else would fit", 0.7)
    else_ = what_else()
    rows = else_.rows

    tell("checking", 0.85)
    unplaced = tuple((name, _why_left_out(name, rows, aside, best.placements)) for name in best.left_out)
    made = Plan(
        built=built,
        verdict=choosing.verdict,
        summary="",
        fit=rows,
        assembly=wired.steps,
        assembly_blocked=wired.blocked,
        options=else_.options,
        outcomes=run_checks(built, rows),
        unplaced=unplaced,
        seed=options.seed,
    )
    return replace(made, summary=summarise(made, choosing.proved, late=late or else_.late))


@dataclass(frozen=True)
class _Try:
    """One way to place and wire the train, and what is still wrong with it."""

    built: BuiltTrain
    steps: tuple[AssemblyStep, ...]
    blocked: tuple[str, ...]
    layout: Layout

    @property
    def faults(self) -> tuple[int, int, int]:
        """Nets that are not reached, parts that have no way in, and what cannot be exchanged as allowed."""
        built = self.built
        inside = sum(len(step.needs) for step in self.steps)
        shut = sum(
            entry.often and not entry.within(built.train.need(entry.need)) for entry in built.exchanged
        )
        return (len(built.harness.unreached), len(built.placements) - inside, shut)


def _wired(
    train: Train,
    packings: tuple[Packing, ...],
    match: PinMatch,
    currents: Mapping[str, NetCurrent],
    run: _Run,
) -> _Try:
    """Run the wires and look for a way in; where either fails, let the parts make way and try again.

    Of all tries the one with the fewest faults is kept, the first among equals.
    """
    best: _Try | None = None
    for number in range(TRIES):
        placements = tuple(place for packing in packings for place in packing.placements)
        rebuilds = tuple(packing.rebuild for packing in packings if packing.rebuild is not None)
        built = BuiltTrain(train, placements, Harness(), match.uses, rebuilds)
        steps, blocked = _assembly(built)
        inside = {need for step in steps for need in step.needs}
        shut_out = [place for place in placements if place.need not in inside]
        for place in shut_out:
            run.packer.demand_way_in(place.vehicle, place.need)
        if shut_out and number < TRIES - 1:
            # A way in is quicker to ask for than wires: those wait until the parts can go in.
            moved = tuple(run.again(packing) for packing in packings)
            if moved != packings:
                packings = moved
                continue
        built = replace(built, exchanged=exchanges(train, placements, _taken_out(rebuilds)))
        with reused_memory():
            wired = wire_train(built, currents)
        attempt = _Try(replace(built, harness=wired.harness), steps, blocked, wired.layout)
        if best is None or attempt.faults < best.faults:
            best = attempt
        if not wired.squeezes:
            break
        for squeeze in wired.squeezes:
            run.packer.keep_for_wires(squeeze.vehicle, squeeze.boxes)
        moved = tuple(run.again(packing) for packing in packings)
        if moved == packings:
            break
        packings = moved
    assert best is not None  # the last try is always wired
    return best


def fit_table(
    train: Train, options: PlanOptions | None = None, progress: Progress | None = None
) -> tuple[FitRow, ...]:
    """Ask of every candidate of every need whether it fits into the vehicles that it may go into."""
    options = options or PlanOptions()
    widened, _ = _with_added_wagon(train)
    run = _Run(widened, options)
    return fit_rows(widened, run.packer, options.budget, progress=progress, every=True)


@dataclass(frozen=True)
class WhatElse:
    """The choices that were not taken, the fit table, and whether a deadline left some of it open."""

    options: tuple[Option, ...]
    rows: tuple[FitRow, ...]
    late: bool


def ask_what_else(choosing: Choosing, run: _Run) -> WhatElse:
    """Ask for the choices that were not taken, and for the fit table.

    Parameters
    ----------
    run
        It is changed: give a copy when more is to be asked of it.
    """
    budget = run.options.budget.ending("what else would fit")
    beside_best = budget.share("runners-up")
    options = choosing.runners_up(beside_best, run.pack)
    late = beside_best.late
    rows = fit_rows(run.train, run.packer, budget)
    return WhatElse(options, rows, late or any(LATE in row.reason for row in rows))


def _choose(run: _Run, added: frozenset[str]) -> Choosing:
    """Choose parts and vehicles; the same run state gives the same choice."""
    return decide(
        run.train,
        run.pack,
        Suitability(run.train).why_not,
        holds=run.packer.holds,
        added=added,
        budget=run.options.budget.share("choice"),
    )


class _Run:
    """The packer of one plan, and the packing of each set of parts as the choice asks for it."""

    def __init__(self, train: Train, options: PlanOptions, packer: Packer | None = None) -> None:
        self.train = train
        self.options = options
        self.packer = packer or Packer(
            {entry.name: entry.vehicle for entry in train.vehicles},
            options.budget,
            seed=options.seed,
        )
        self._reachable = ReachablePacker(train, self.packer, options.budget)

    def copy(self) -> _Run:
        """Return a run that knows all that this one knows now, and goes its own way from here."""
        return _Run(self.train, self.options, self.packer.copy())

    def pack(self, name: str, wanted: tuple[Wanted, ...]) -> Packing:
        return self._reachable.pack(name, wanted)

    def again(self, packing: Packing) -> Packing:
        """Pack the same parts into the same vehicle anew; the old packing stands when that does not go."""
        wanted = tuple(Wanted(self.train.need(place.need), place.part) for place in packing.placements)
        fresh = self.pack(packing.vehicle, wanted)
        return fresh if fresh.holds and fresh.cost <= packing.cost else packing


def _with_added_wagon(train: Train) -> tuple[Train, frozenset[str]]:
    """Return the train with one more wagon behind the loco, when the user allows it: a copy of the last."""
    wagons = [entry for entry in train.vehicles if entry.vehicle.kind == "wagon"]
    if not train.may_add_wagon or not wagons:
        return train, frozenset()
    extra = TrainVehicle(ADDED_WAGON, wagons[-1].vehicle)
    return replace(train, vehicles=(train.vehicles[0], extra, *train.vehicles[1:])), frozenset({ADDED_WAGON})


def _assembly(built: BuiltTrain) -> tuple[tuple[AssemblyStep, ...], tuple[str, ...]]:
    """Return the order of assembly over all vehicles, numbered through, and what blocks what."""
    steps: list[AssemblyStep] = []
    blocked: list[str] = []
    removed = _taken_out(built.rebuilds)
    for entry in built.train.vehicles:
        inside = [place for place in built.placements if place.vehicle == entry.name]
        if not inside:
            continue
        order = assembly_order(entry.vehicle, inside, removed=removed.get(entry.name, frozenset()))
        steps += [replace(step, number=len(steps) + i) for i, step in enumerate(order.steps, 1)]
        blocked.extend(order.blocked)
    return tuple(steps), tuple(blocked)


def _taken_out(rebuilds: tuple[Rebuild, ...]) -> dict[str, frozenset[str]]:
    return {rebuild.vehicle: frozenset(rebuild.remove) for rebuild in rebuilds}


def _why_left_out(name: str, rows: tuple[FitRow, ...], run: _Run, placed: tuple[Placement, ...]) -> str:
    """Say why a need found no place: the closest miss of its candidates, on its own."""
    mine = [row for row in rows if row.need == name and row.reason]
    if mine:
        closest = min(mine, key=lambda row: (row.missing_mm == 0, row.missing_mm))
        return f"{closest.part_id} in {closest.vehicle}: {closest.reason}"
    need = run.train.need(name)
    reasons = []
    for entry in run.train.vehicles:
        if not may_go(need, entry.name):
            continue
        for part in need.candidates:
            wanted = Wanted(need, part)
            packing = run.pack(entry.name, (wanted,))
            if packing.holds:
                reasons.append(_beside_others(entry.name, wanted, run, placed))
            else:
                missing, _, _, sentence = run.packer.nearest_miss(entry.name, wanted)
                reasons.append((missing, f"{entry.name}: {sentence or packing.reason}"))
    # The least that is missing says most; what has no figure comes after what has one.
    reasons.sort(key=lambda reason: (reason[0] == 0.0, reason[0]))
    return "; ".join(dict.fromkeys(sentence for _, sentence in reasons[:2]))


def _beside_others(
    vehicle: str, wanted: Wanted, run: _Run, placed: tuple[Placement, ...]
) -> tuple[float, str]:
    """Say which of the parts placed in a vehicle leave no room for one more, and what is missing."""
    beside = tuple(
        Wanted(run.train.need(place.need), place.part) for place in placed if place.vehicle == vehicle
    )
    if beside and run.pack(vehicle, (wanted, *beside)).verdict == "cannot fit":
        misfit = run.packer.smallest_misfit(vehicle, (wanted, *beside))
        return (misfit.missing_mm, misfit.text)
    return (0.0, f"{vehicle}: {wanted.part.name} would go in alone, not beside the others there")


def summarise(plan: Plan, proved: bool, *, late: bool = False) -> str:
    """Return the verdict as a sentence or two that a newcomer understands."""
    built = plan.built
    if plan.unplaced:
        name, why = plan.unplaced[0]
        rest = [other for other, _ in plan.unplaced[1:]]
        others = f", nor for {', '.join(rest)}" if rest else ""
        why = f"{why[:1].upper()}{why[1:]}."
        if plan.verdict == "not decided":
            open_ = f"no place was found for {name}{others}, nor is it proved that there is none"
            return f"Not decided: {open_}. {why}"
        return f"Not everything fits: there is no place for {name}{others}. {why}"
    homes = []
    for need in built.train.needs:
        placement = built.placement(need.name)
        if need.choice is not None and placement is not None:
            homes.append(f"the {placement.part.name} goes into the {placement.vehicle}")
    where = "; ".join(homes) if homes else f"all {len(built.placements)} parts have a place"
    text = f"Everything fits: {where}."
    for rebuild in built.rebuilds:
        text += f" Take out of the {rebuild.vehicle}: {', '.join(rebuild.remove)}."
    added = [place for place in built.placements if place.shelf is not None and place.shelf.cost]
    for place in added:
        assert place.shelf is not None
        text += f" Add for {place.need} in the {place.vehicle} {place.shelf.words}."
    wires = built.harness.wires
    metres = sum(wire.cut_mm for wire in wires) / 1000
    text += f" {len(wires)} wires, {metres:.2f} m in all."
    if built.harness.unreached:
        lost = built.harness.unreached[0]
        text += f" But {lost.net} does not reach {lost.owner}: {lost.reason}."
    if plan.assembly_blocked:
        text += f" It cannot be assembled as it lies: {plan.assembly_blocked[0]}."
    stops = sum(finding.severity == "stop" for finding in plan.findings)
    if stops:
        text += f" {stops} finding{'s' if stops > 1 else ''} must be mended before it runs."
    if not proved:
        text += " A better choice may exist: not all choices were looked at."
    if late:
        text += f" Not all questions were answered: {LATE}."
    return text
