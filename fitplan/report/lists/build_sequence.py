"""The one sequence of building: parts as they go in, and wires as soon as all their ends are there."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.plan import Moves, Plan, Wire
from fitplan.report.lists.harness_lists import PlanList
from fitplan.report.lists.result_lists import assembly_list
from fitplan.report.lists.wording import counted, end_word

StepKind: TypeAlias = Literal["part", "wires"]


@dataclass(frozen=True)
class BuildStep:
    """One thing to do: bring a part in, or lay the wires of a net whose ends are all there.

    ``lift`` is the height above the rail (mm) from which a vehicle is opened upwards for a part to pass,
    None where it goes in without that.
    """

    number: int
    kind: StepKind
    needs: tuple[str, ...]
    wires: tuple[int, ...]
    vehicle: str
    moves: Moves
    lift: float | None
    words: str


def build_sequence(plan: Plan) -> tuple[BuildStep, ...]:
    """Return the steps of building: each part of the order of assembly, then what can be wired with it."""
    rows = assembly_list(plan).rows
    laid = _wires_after(plan)
    found: list[BuildStep] = []

    def lay(place: int) -> None:
        for net, wires in laid.get(place, {}).items():
            vehicle = wires[0].legs[0].vehicle if wires[0].legs else wires[0].start.vehicle
            numbers = tuple(wire.number for wire in wires)
            listed = "; ".join(
                f"{wire.number} {wire.colour} {end_word(wire.start)} to {end_word(wire.end)}"
                for wire in wires
            )
            words = f"lay {counted(len(wires), 'wire')} of {net}: {listed}"
            found.append(BuildStep(len(found) + 1, "wires", (), numbers, vehicle, (), None, words))

    lay(0)
    for place, (step, row) in enumerate(zip(plan.assembly, rows, strict=True), 1):
        words = f"{row[1]} into {row[2]} through {row[3]}, {row[4]}"
        lift = _lift(plan, step.vehicle, step.opening, step.moves)
        found.append(BuildStep(len(found) + 1, "part", step.needs, (), step.vehicle, step.moves, lift, words))
        lay(place)
    return tuple(found)


def sequence_list(plan: Plan) -> PlanList:
    """Return the sequence of building as a list."""
    rows = tuple((step.number, step.kind, step.vehicle, step.words) for step in build_sequence(plan))
    return PlanList("sequence", "Building, step by step", ("step", "what", "vehicle", "do"), rows)


def _wires_after(plan: Plan) -> dict[int, dict[str, list[Wire]]]:
    """Return which wires can be laid after so many steps of assembly, net by net.

    What a splice joins is laid together, once the last part is in that any of its wires goes to.
    """
    goes_in = {need: place for place, step in enumerate(plan.assembly, 1) for need in step.needs}
    late = len(plan.assembly)
    placed = {placement.need for placement in plan.built.placements}
    of_splice: dict[str, int] = defaultdict(int)
    ready: dict[int, int] = {}
    wires = plan.built.harness.wires
    for wire in wires:
        owners = [end.owner for end in (wire.start, wire.end) if end.kind == "pin" and end.owner in placed]
        ready[wire.number] = max((goes_in.get(owner, late) for owner in owners), default=0)
        for end in (wire.start, wire.end):
            if end.kind == "splice":
                of_splice[end.owner] = max(of_splice[end.owner], ready[wire.number])
    changed = True
    while changed:
        changed = False
        for wire in wires:
            splices = [end.owner for end in (wire.start, wire.end) if end.kind == "splice"]
            when = max([ready[wire.number], *(of_splice[name] for name in splices)])
            changed = changed or when > ready[wire.number]
            ready[wire.number] = when
            for name in splices:
                changed = changed or when > of_splice[name]
                of_splice[name] = when
    found: dict[int, dict[str, list[Wire]]] = defaultdict(dict)
    for wire in wires:
        found[ready[wire.number]].setdefault(wire.net, []).append(wire)
    return found


def _lift(plan: Plan, vehicle: str, opening: str, moves: Moves) -> float | None:
    """Return from which height up a vehicle is opened for a part that comes from above."""
    if not any(direction == "-z" for direction, _ in moves):
        return None
    lids = [
        entry.box.low[2]
        for entry in plan.built.train.vehicle(vehicle).vehicle.openings
        if entry.out == "+z" and entry.name in opening
    ]
    return min(lids, default=None)
