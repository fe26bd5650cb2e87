"""The order of work in words, step by step, as page, sheets and lists show it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.coupling_halves import contacts_word
from fitplan.model.electrical import Controller
from fitplan.model.meter import STAGES
from fitplan.model.own_leads import made_of
from fitplan.model.part import PinJoint
from fitplan.model.placed import STUCK_SO, STUCK_TO
from fitplan.model.plan import Plan
from fitplan.model.ways_in import Moves
from fitplan.model.wired import Wire, WireEnd
from fitplan.model.work import EndOf, WorkStep
from fitplan.report.lists.leading_words import drawn_out, led_through, part_led
from fitplan.report.lists.order_words import order_words
from fitplan.report.lists.orientation import orientation
from fitplan.report.lists.parted_leads import parted_leads
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.result_lists import assembly_list
from fitplan.report.lists.standing import (
    AS_BUILT,
    left_of,
    standing_of,
    stands,
    what_stands_of,
)
from fitplan.report.lists.wording import colour_word, counted, end_word, millimetres, resistor_at, runs_word

StepKind: TypeAlias = Literal["part", "wires", "other"]
_FASTEN: dict[PinJoint, str] = {
    "solder": "solder",
    "screw": "clamp",
    "lever": "clamp",
    "crimp": "crimp",
    "header": "plug",
    "plug": "plug in",
    "attached": "lay out",
}
_TOOLS: dict[PinJoint, str] = {
    "solder": "iron, solder, heat-shrink",
    "screw": "screwdriver",
    "lever": "tweezers",
    "crimp": "crimping tool",
    "header": "crimping tool, tweezers",
    "plug": "plug",
    "attached": "the part with its own leads",
}


_LOAD = "load the test program, cells and banks unplugged while the computer is plugged in"


@dataclass(frozen=True)
class BuildStep:
    """One step of the order of work.

    Attributes
    ----------
    needs, wires
        What is new in the train after it: parts that go in, wires that are laid whole.
    vehicle
        Empty where it is done on the table.
    lift
        The height above the rail (mm) from which a vehicle is opened upwards for a part to pass, None where
        it goes in without that.
    hand
        What is in the hand.
    stands
        Whether nothing of it is left to do, since it is built already.
    """

    number: int
    kind: StepKind
    act: str
    needs: tuple[str, ...]
    wires: tuple[int, ...]
    vehicle: str
    moves: Moves
    lift: float | None
    hand: str
    words: str
    stands: bool = False


def build_sequence(plan: Plan) -> tuple[BuildStep, ...]:
    """Return the steps of the order of work in words."""
    return _Wording(plan).steps()


def sequence_list(plan: Plan) -> PlanList:
    """Return the order of work as a list."""
    rows = tuple(
        (step.number, step.act, step.vehicle or "the table", step.hand, step.words)
        for step in build_sequence(plan)
    )
    return PlanList(
        "sequence",
        "Building, step by step",
        ("step", "what", "where", "in the hand", "do"),
        rows,
        order_words(plan),
    )


class _Wording:
    """Words all steps of a plan."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.wires = {wire.number: wire for wire in plan.built.harness.wires}
        self.ways = {
            step.needs: row for step, row in zip(plan.assembly, assembly_list(plan).rows, strict=True)
        }
        self.entries = {step.needs: step for step in plan.assembly}
        self.last = self._last_touched()
        self.parted = parted_leads(plan)
        self.shrunk = {
            word.removesuffix(" resistor")
            for article in plan.buying
            if article.name.startswith("heat-shrink")
            for word in article.serves
        }
        self.load_before = self._closes_over_a_board()
        self.there = standing_of(plan)

    def steps(self) -> tuple[BuildStep, ...]:
        """Return all steps."""
        return tuple(self._step(step) for step in self.plan.work.steps)

    def _last_touched(self) -> dict[int, list[int]]:
        """Return which wires are laid whole by which step: the last that works at them in a vehicle."""
        last: dict[int, int] = {}
        placed = {
            need: step.number for step in self.plan.work.steps if step.act == "place" for need in step.parts
        }
        for step in self.plan.work.steps:
            for number in step.wires:
                if step.act in ("join", "plug", "house", "thread", "splice"):
                    last[number] = max(last.get(number, 0), step.number)
        for wire in self.wires.values():
            for end in (wire.start, wire.end):
                if end.kind == "pin" and end.owner in placed:
                    last[wire.number] = max(last.get(wire.number, 0), placed[end.owner])
        for wire in self.wires.values():
            if wire.inside in last:
                last[wire.number] = max(last.get(wire.number, 0), last[wire.inside])
        found: dict[int, list[int]] = {}
        for number, step_number in last.items():
            found.setdefault(step_number, []).append(number)
        return found

    def _step(self, step: WorkStep) -> BuildStep:
        laid = tuple(sorted(self.last.get(step.number, ())))
        needs = step.parts if step.act == "place" else ()
        moves: Moves = ()
        lift = None
        if step.act == "place" and step.parts in self.entries:
            entry = self.entries[step.parts]
            moves, lift = entry.moves, _lift(self.plan, entry.vehicle, entry.opening, entry.moves)
        kind: StepKind = "part" if step.act == "place" else "wires" if step.wires else "other"
        hand, words = self._words(left_of(step, self.there))
        built = stands(step, self.there)
        words = f"{AS_BUILT}{words}" if built else f"{words}{what_stands_of(step, self.there)}"
        vehicle = "" if step.spot == "table" else step.vehicle
        return BuildStep(step.number, kind, step.act, needs, laid, vehicle, moves, lift, hand, words, built)

    def _words(self, step: WorkStep) -> tuple[str, str]:
        """Return what is in the hand, and what is done."""
        felt = "; no tool gets there straight, feel for it" if step.blind else ""
        through = f" through {step.opening}" if step.opening else ""
        match step.act:
            case "cut":
                return "cutter, stripper, labels", self._cut(step)
            case "splice":
                joined = ", ".join(self._wire(number) for number in step.wires)
                spot = f", in place{through}" if step.spot == "inside" else ""
                return (
                    _TOOLS["solder"],
                    f"splice {step.splice}: solder {joined} to each other{spot}, heat-shrink over it{felt}",
                )
            case "join":
                beside = f", beside the vehicle{drawn_out(self.plan, step)}"
                spot = {"table": "", "beside": beside, "inside": f", in place{through}"}[step.spot]
                ends = "; ".join(self._end(end) for end in step.ends)
                tools = _TOOLS[step.joint]
                if step.joint == "solder" and not self._shrinks(step.ends):
                    tools = "iron, solder"
                return (
                    f"{step.parts[0]}, {tools}",
                    f"{_FASTEN[step.joint]} to {step.parts[0]}{spot}: {ends}{self._plugs(step.ends)}{felt}",
                )
            case "plug":
                ends = "; ".join(self._end(end) for end in step.ends)
                return "plug", f"now plug in what feeds: {ends}{self._plugs(step.ends)}"
            case "crimp":
                ends = ", ".join(self._wire(number) for number in step.wires)
                return _TOOLS["crimp"], f"crimp {self._contacts(step)} for {step.crossing} onto {ends}"
            case "house":
                ends = ", ".join(
                    f"{self._wire(n)} in cavity {self._wire_end((n, s)).pin}" for n, s in step.ends
                )
                return (
                    "housing",
                    f"push the {self._contacts(step)} into the housing of {step.crossing}: {ends}",
                )
            case "take out":
                return "bricks", f"take out {', '.join(step.bricks)}"
            case "open":
                return "lid", f"take off {step.opening}"
            case "thread" if step.parts:
                return f"{step.parts[0]}, wire", part_led(self.plan, step, _numbers(step.wires))
            case "thread":
                ends = "; ".join(
                    f"{self._wire(n)}, its end at {end_word(self._wire_end((n, s)))} first"
                    for n, s in step.ends
                )
                halves = self._halves(step)
                hand = "wire ends, tweezers" + (", iron, solder, heat-shrink" if halves else "")
                return hand, f"lead through {led_through(self.plan, step)}: {ends}{felt}{halves}"
            case "place":
                return " with ".join(step.parts), self._place(step)
            case "fasten":
                return "bricks or tape", f"fasten {step.parts[0]}: {self._held(step)}"
            case "measure":
                return "meter", self._readings(step)
            case "couple":
                return "both halves", self._couple(step)
            case "close":
                load = f"{_LOAD}; then " if step.number == self.load_before else ""
                return "lid", f"{load}put on {step.opening}; no wire under its rim"
            case "run":
                load = "" if self.load_before else f"{_LOAD}, "
                return "the train", f"first run: {load}tick the test program's checklist, then drive slowly"

    def _held(self, step: WorkStep) -> str:
        """Return what a part is fastened with in a step: its first fastening in the first, and so on."""
        words = [one.words for one in self.plan.built.fastenings if one.need == step.parts[0]]
        steps = [one for one in self.plan.work.steps if one.act == "fasten" and one.parts == step.parts]
        earlier = sum(one.number < step.number for one in steps)
        return words[earlier] if earlier < len(words) else ""

    def _closes_over_a_board(self) -> int:
        """Return the first step that closes a vehicle with a controller in it; 0: none does."""
        boards = {
            one.vehicle for one in self.plan.built.placements if one.part.figure(Controller) is not None
        }
        return next(
            (one.number for one in self.plan.work.steps if one.act == "close" and one.vehicle in boards), 0
        )

    def _cut(self, step: WorkStep) -> str:
        first = self.wires[step.wires[0]]
        listed = ", ".join(f"{n}: {self._cut_from(n)}" for n in step.wires)
        if first.lead is not None:
            kept = (
                f"; leave {n} in two, cut near {end_word(self._wire_end((n, s)))}, until it is led through"
                for n, s in sorted(self.parted)
            )
            return f"shorten leads and join them again: {listed}{''.join(kept)}"
        return (
            f"cut {counted(len(step.wires), 'wire')} AWG {first.awg}, {colour_word(first.colour)}: {listed}; "
            f"strip both ends{self._stripped(step)}, label both ends"
        )

    def _stripped(self, step: WorkStep) -> str:
        """Return how far ends are stripped: the usual length first, then what differs from it."""
        ends = [end for n in step.wires for end in (self.wires[n].start, self.wires[n].end)]
        plain = sorted({end.strip_mm for end in ends if end.kind != "splice"})
        spliced = sorted({end.strip_mm for end in ends if end.kind == "splice"})
        found = [" or ".join(f"{length:g}" for length in plain) + " mm"] if plain else []
        if spliced and spliced != plain:
            found.append(" or ".join(f"{length:g}" for length in spliced) + " mm for a splice")
        return f" {', '.join(found)}" if found else ""

    def _shrinks(self, ends: Iterable[EndOf]) -> bool:
        """Return whether heat-shrink goes over one of these joints."""
        pins = {f"{end.owner}.{end.pin}" for one in ends for end in [self._wire_end(one)]}
        return bool(pins & self.shrunk)

    def _contacts(self, step: WorkStep) -> str:
        """Return which contacts a half of a connector pair takes."""
        crossing = next(one for one in self.plan.built.harness.crossings if one.name == step.crossing)
        vehicles = {self._wire_end(end).vehicle for end in step.ends}
        return contacts_word(self.plan.built, crossing, min(vehicles)) if len(vehicles) == 1 else "contacts"

    def _plugs(self, ends: Iterable[EndOf]) -> str:
        """Return of leads as bought which conductors one plug holds."""
        found = []
        for number, _ in ends:
            with_it = [wire.number for wire in self.wires.values() if wire.inside == number]
            if with_it:
                found.append(_numbers(sorted((number, *with_it))))
        return f"; one plug holds {' and '.join(found)}" if found else ""

    def _halves(self, step: WorkStep) -> str:
        """Return which leads are joined again, once led through in two, in the step that led them last."""
        numbers = [end[0] for end in step.ends if self.parted.get(end) == step.number]
        if not numbers:
            return ""
        return (
            f"; join the two pieces of {_numbers(numbers)} again beside the vehicle, each conductor for "
            "itself, under shrink sleeve"
        )

    def _cut_from(self, number: int) -> str:
        """Return how long a wire is cut, and what of it are leads that its parts come with."""
        wire = self.wires[number]
        made = made_of(self.plan.built, wire)
        pieces = [f"{millimetres(length)} of {owner}'s own lead" for owner, length in made.own]
        if made.own and made.spool_mm:
            pieces.append(f"{millimetres(made.spool_mm)} from the spool, joined")
        return f"{millimetres(wire.cut_mm)}{' (' + ' and '.join(pieces) + ')' if pieces else ''}"

    def _place(self, step: WorkStep) -> str:
        row = self.ways.get(step.parts)
        if row is None:
            return f"put {' with '.join(step.parts)} in"
        placement = self.plan.built.placement(step.parts[0])
        hold = f"{orientation(placement)}; " if placement is not None else ""
        carried = [
            f"first {one.shelf.words}; "
            for need in step.parts
            if (one := self.plan.built.placement(need)) is not None and one.shelf is not None
        ]
        hang = sorted({number for one in step.lifted for number in one.wires})
        wires = f"; it hangs on {_numbers(hang)}, let them fold in after it" if hang else ""
        stuck = "".join(f"; stick it to {at}" for need in step.parts if (at := self._stuck_to(need)))
        return f"{row[1]} into {row[2]} through {row[3]}: {''.join(carried)}{hold}{row[4]}{wires}{stuck}"

    def _stuck_to(self, need: str) -> str:
        """Return where a part is stuck that nothing else holds, as a finding tells it; empty: nowhere."""
        said = f"{need}{STUCK_TO}"
        told = (one.message for one in self.plan.findings if one.message.startswith(said))
        return next((one.removeprefix(said).removesuffix(STUCK_SO) for one in told), "")

    def _readings(self, step: WorkStep) -> str:
        stages = {test.number: test.stage for test in self.plan.meter.tests}
        first = "cells in, or the bank charged, all switches off; " if self._is_first_power(step) else ""
        named = [stage for stage in STAGES if any(stages.get(n) == stage for n in step.readings)]
        taken = f"take readings {runs_word(step.readings)} ({', '.join(named)})"
        return f"{first}{taken}; go on only when all are right"

    def _is_first_power(self, step: WorkStep) -> bool:
        """Return whether a step takes the first readings with cells in."""
        stages = {test.number: test.stage for test in self.plan.meter.tests}
        return any(stages.get(number) == "source" for number in step.readings)

    def _couple(self, step: WorkStep) -> str:
        crossing = next(one for one in self.plan.built.harness.crossings if one.name == step.crossing)
        inside = ""
        if crossing.pair is not None:
            inside = f", draw the pair in behind the port of {crossing.pair.vehicle}"
        return f"couple {crossing.ahead} and {crossing.behind}, plug {crossing.name}{inside}"

    def _wire(self, number: int) -> str:
        return f"wire {number} {self.wires[number].colour}"

    def _wire_end(self, end: EndOf) -> WireEnd:
        wire = self.wires[end[0]]
        return wire.start if end[1] == "start" else wire.end

    def _end(self, end: EndOf) -> str:
        wire: Wire = self.wires[end[0]]
        here = self._wire_end(end)
        resistor = resistor_at(self.plan.built, wire, here)
        between = f" with {resistor.words} between" if resistor is not None else ""
        return f"{self._wire(end[0])} to {here.pin}{between}"


def _numbers(wires: Iterable[int]) -> str:
    listed = [str(number) for number in wires]
    return f"wire{'s' if len(listed) > 1 else ''} {', '.join(listed)}"


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
