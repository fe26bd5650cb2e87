"""A finished harness as resistors, with faults planted: what an ohmmeter would show, by no product code.

Every pin, splice and cavity is a node of its own; wires, contacts, copper inside parts and what lies in
parts are resistors of usual size, drawn anew for each seed. All nodes leak a little to one node, as a meter's
own limit. Node volts for one ampere from one lead to the other are one system of equations (Kirchhoff).
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, pairwise

import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import (
    CellPack,
    Charger,
    Controller,
    Fuse,
    Load,
    SeriesResistor,
    Switch,
)
from fitplan.model.meter import MeterTest, Probe
from fitplan.model.part import Part

Place = tuple[str, str, str]
"""Owner, pin and, for the halves of a coupling connector, the vehicle."""
OVER_OHM = 2e6
"""Above it a small meter shows an open circuit."""
LEAK_OHM = 1e9
COPPER_OHM = 0.005
FEEDING = {"raw", "5v", "3v3", "supply", "plus"}


@dataclass
class Lead:
    """A wire: where each end is fastened, and what is soldered into that end (Ω)."""

    number: int
    ends: list[Place]
    in_end: list[float]
    ohm: float
    whole: bool = True


@dataclass
class Bench:
    """A harness on the table."""

    built: BuiltTrain
    seed: int
    leads: list[Lead] = field(default_factory=list)
    bridges: list[tuple[Place, Place]] = field(default_factory=list)
    apart: set[tuple[str, str]] = field(default_factory=set)
    """Contacts of coupling connectors that do not meet."""

    def __post_init__(self) -> None:
        draw = random.Random(self.seed)
        for wire in self.built.harness.wires:
            ends, resistors = [], []
            for end in (wire.start, wire.end):
                half = end.vehicle if end.kind == "connector" else ""
                ends.append((end.owner, "" if end.kind == "splice" else end.pin, half))
                soldered = [
                    one.ohm * draw.uniform(0.95, 1.05)
                    for one in self.built.resistors
                    if one.place == "lead" and (one.owner, one.pin) == (end.owner, end.pin)
                ]
                resistors.append(sum(soldered) if end.kind == "pin" else 0.0)
            self.leads.append(Lead(wire.number, ends, resistors, draw.uniform(0.02, 0.2)))
        self.inner = list(self._inner(draw))
        self._names: dict[Place, int] = {}
        self._solved: dict[frozenset[str], np.ndarray] = {}

    def parts(self) -> Iterator[tuple[str, Part]]:
        """Yield what was placed."""
        for one in self.built.placements:
            yield one.need, one.part

    def _inner(self, draw: random.Random) -> Iterator[tuple[str, Place, Place, float]]:
        """Yield resistors inside parts, with the switch that closes them where there is one."""
        for owner, part in self.parts():
            by_role: dict[str, list[Place]] = {}
            for pin in part.pins:
                role = "feeding" if pin.role in FEEDING else pin.role
                by_role.setdefault(role, []).append((owner, pin.name, ""))
            grounds, feeds = by_role.get("ground", []), by_role.get("feeding", [])
            groups: dict[str, list[Place]] = {}
            for pin in part.pins:
                kind = pin.joined or (pin.role if pin.role in ("ground", "5v", "3v3") else "")
                if part.figure(Charger) is not None and pin.name in part.figure(Charger).cell_pins:  # type: ignore[union-attr]
                    kind = "cells" if pin.role == "ground" else ""
                board = part.figure(Controller)
                if board is not None and board.usb_drop_v and pin.socket and pin.role == "5v":
                    # Through the diode an ohmmeter reads anything, or nothing.
                    rail = next((one for one in part.pins if one.role == "5v" and not one.socket), None)
                    if rail is not None:
                        yield "", (owner, pin.name, ""), (owner, rail.name, ""), draw.uniform(2e3, 1e6)
                    kind = ""
                if kind:
                    groups.setdefault(kind, []).append((owner, pin.name, ""))
            for group in groups.values():
                yield from (("", a, b, COPPER_OHM) for a, b in pairwise(group))
            if part.figure(Switch) is not None:
                yield from ((owner, a, b, 0.05) for a, b in combinations(feeds, 2))
                continue
            fuse = part.figure(Fuse)
            if fuse is not None:
                usual = fuse.resistance_ohm * draw.uniform(0.3, 0.9) or 0.1
                yield from (("", a, b, usual) for a, b in combinations(feeds, 2))
                continue
            if not part.electrical:
                free = [place for place in feeds if not part.pin(place[1]).joined]
                yield from (("", a, b, COPPER_OHM) for a, b in pairwise(free))
                continue
            if part.figure(CellPack) is not None or part.family == "bank":
                continue  # out
            coil = part.figure(SeriesResistor)
            if coil is not None and coil.own_ohm > 0:
                own = coil.own_ohm * draw.uniform(0.95, 1.1)
                yield from (("", a, b, own) for a in by_role.get("signal", []) for b in grounds)
            ohm = self._fed_ohm(part) * draw.uniform(1.2, 8.0)
            yield from (("", a, b, ohm) for a in feeds for b in grounds[:1])
            if part.figure(Controller) is not None:
                yield from (("", a, grounds[0], draw.uniform(5e4, 1e6)) for a in by_role.get("signal", []))
        for entry in self.built.train.vehicles:
            for item in entry.vehicle.built_in:
                if item.cells is None and item.stall_ma > 0:
                    places: list[Place] = [(f"{entry.name}/{item.name}", pin.name, "") for pin in item.pins]
                    winding = 1000 * 9.0 / item.stall_ma * draw.uniform(0.8, 1.2)
                    yield from (("", a, b, winding) for a, b in combinations(places, 2))

    def _fed_ohm(self, part: Part) -> float:
        """Return volts over peak current of what a part draws: what it would be as a resistor."""
        board, load = part.figure(Controller), part.figure(Load)
        if board is not None:
            return 1000 * board.logic_v / max(board.peak_ma, board.current_ma, 1.0)
        if load is not None and max(load.peak_ma, load.current_ma) > 0:
            return max(10.0, 1000 * load.min_v / max(load.peak_ma, load.current_ma))
        return 5000.0

    def exchange(self, one: Place, other: Place) -> None:
        """Exchange all wires of two places."""
        turn = {one: other, other: one}
        for lead in self.leads:
            lead.ends = [turn.get(end, end) for end in lead.ends]

    def read(self, test: MeterTest) -> float:
        """Return what the meter shows: of several pairs the lowest reading."""
        state = set()
        if test.stage == "coupled":
            state.add("coupled")
            if test.first.endswith(" on"):
                state.add(test.first.removesuffix(" on"))
        return min(self._between(frozenset(state), *pair) for pair in test.pairs)

    def _between(self, state: frozenset[str], red: Probe, black: Probe) -> float:
        if state not in self._solved:
            self._solved[state] = self._solve(state)
        inverse = self._solved[state]
        a, b = (self._names.get(self._place(probe), -1) for probe in (red, black))
        if a < 0 or b < 0:
            return math.inf
        ohm = float(inverse[a, a] + inverse[b, b] - 2 * inverse[a, b])
        return math.inf if ohm > OVER_OHM else max(ohm, 0.0) + 0.15

    @staticmethod
    def _place(probe: Probe) -> Place:
        return (probe.owner, probe.pin, probe.vehicle if probe.kind == "connector" else "")

    def _resistors(self, state: frozenset[str]) -> Iterator[tuple[Place, Place, float]]:
        halves: dict[tuple[str, str], set[Place]] = {}
        for lead in self.leads:
            for end in lead.ends:
                if end[2]:
                    halves.setdefault(end[:2], set()).add(end)
            if lead.whole:
                yield lead.ends[0], lead.ends[1], lead.ohm + sum(lead.in_end)
        for switch, a, b, ohm in self.inner:
            if not switch or switch in state:
                yield a, b, ohm
        for a, b in self.bridges:
            yield a, b, 0.2
        if "coupled" in state:
            for key, places in halves.items():
                if len(places) == 2 and key not in self.apart:
                    one, other = sorted(places)
                    yield one, other, 0.02

    def _solve(self, state: frozenset[str]) -> np.ndarray:
        resistors = list(self._resistors(state))
        for a, b, _ in resistors:
            for place in (a, b):
                self._names.setdefault(place, len(self._names))
        matrix = np.eye(len(self._names)) / LEAK_OHM
        for a, b, ohm in resistors:
            i, j = self._names[a], self._names[b]
            if i != j:
                matrix[[i, j], [i, j]] += 1 / ohm
                matrix[[i, j], [j, i]] -= 1 / ohm
        return np.linalg.inv(matrix)


def side_by_side(built: BuiltTrain) -> Iterator[tuple[Place, Place]]:
    """Yield pins and cavities next to each other of which at least one has a wire.

    Of a part: at one grid step of 2.54 mm (and a tenth), or else each pin and the one that lies nearest, if
    that is within 6 mm. Of a connector: numbers that follow each other, in each half.
    """
    wired: set[Place] = set()
    for wire in built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind != "splice":
                wired.add((end.owner, end.pin, end.vehicle if end.kind == "connector" else ""))
    for one in built.placements:
        pins = one.part.pins
        found = set()
        for pin in pins:
            others = [(math.dist(pin.at, other.at), other.name) for other in pins if other is not pin]
            if not others:
                continue
            near = [name for far, name in others if far <= 2.54 * 1.1]
            far, nearest = min(others)
            near = near or ([nearest] if far <= 6.0 else [])
            found |= {frozenset((pin.name, name)) for name in near}
        for pair in sorted(tuple(sorted(names)) for names in found):
            a, b = ((one.need, name, "") for name in pair)
            if a in wired or b in wired:
                yield a, b
    for place in sorted(wired):
        if place[2]:
            after = (place[0], str(int(place[1]) + 1), place[2])
            if after in wired:
                yield place, after
