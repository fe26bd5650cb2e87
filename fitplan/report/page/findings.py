"""Findings on the page: what asks for something, what holds and by how much, and where each of them is."""

from __future__ import annotations

import re

from fitplan.model.found import Finding, Severity
from fitplan.model.plan import Plan
from fitplan.model.solids import Vec
from fitplan.report.drawings.ghosts import ghosts_of
from fitplan.report.lists.actions import asks
from fitplan.report.lists.plan_list import Cell, PlanList
from fitplan.report.lists.wording import clean, number, shorten
from fitplan.report.page.words import Words

SEVERITY_WORDS: dict[Severity, str] = {
    "stop": "Stops: what must change first",
    "caution": "Cautions: what to mind",
    "note": "Notes: what to set and how to build",
}
_WIRES = re.compile(r"\bwires? ((?:\d+, )*\d+)\b", re.IGNORECASE)
_POINT = re.compile(r"^(.+) at (-?[\d.]+), (-?[\d.]+), (-?[\d.]+) mm$")
_SIDES = re.compile(r"^(.+) (?:to|and) (.+)$")


def asking(plan: Plan) -> list[tuple[Severity, str, list[tuple[int, Finding]]]]:
    """Return what asks for something, numbered through: stops, cautions and notes under their titles."""
    found: list[tuple[Severity, str, list[tuple[int, Finding]]]] = []
    count = 0
    for weight, title in SEVERITY_WORDS.items():
        here = [one for one in of_weight(plan, weight) if weight != "note" or asks(one)]
        entries = [(count + i, one) for i, one in enumerate(here, 1)]
        count += len(entries)
        found.append((weight, title, entries))
    return found


def of_weight(plan: Plan, severity: Severity) -> list[Finding]:
    """Return the findings of one weight."""
    return [found for found in plan.findings if found.severity == severity]


def holding(plan: Plan) -> list[Finding]:
    """Return the checks that hold and ask for nothing."""
    return [found for found in of_weight(plan, "note") if not asks(found)]


def asked_words(found: Finding) -> str:
    """Return how a figure is held against its limit: *at most* or *at least*, and whether it keeps it.

    A note that asks for something holds nothing back, so it says no more than what stands beside what.
    """
    holds = found.severity == "note"
    if holds and asks(found):
        return "against"
    above = found.figure > found.limit
    if found.figure == found.limit:
        return "just the limit of"
    return (
        ("must be at most" if above else "must be at least")
        if not holds
        else ("is at least" if above else "is at most")
    )


def holding_list(plan: Plan) -> PlanList:
    """Return the checks that hold: value, limit, and what is left between the two as a share of the limit."""
    rows: list[tuple[Cell, ...]] = []
    for found in holding(plan):
        way = "at most" if found.figure <= found.limit else "at least"
        room = abs(found.limit - found.figure)
        share = f"{100 * room / abs(found.limit):.0f} %" if found.limit else ""
        value, limit = (f"{number(figure, 3)} {found.unit}" for figure in (found.figure, found.limit))
        rows.append((found.subject, found.where, found.message, value, way, limit, share, found.source))
    columns = ("check", "where", "what", "value", "must be", "limit", "margin", "by")
    return PlanList("holding", "What holds", columns, tuple(rows))


class FindingPlaces:
    """Finds the key of what each finding is about: parts, wires, a vehicle, a hole in a wall, a point."""

    def __init__(self, plan: Plan) -> None:
        self.words: Words = {}
        """Words for keys that only findings speak of."""
        self._plan = plan
        self._parts = {one.need: f"part-{i}" for i, one in enumerate(plan.built.placements)}
        self._parts |= {one.need: f"ghost-{i}" for i, one in enumerate(ghosts_of(plan))}
        self._nets = {wire.net: f"net-{wire.net}" for wire in plan.built.harness.wires}
        self._wires = {wire.number for wire in plan.built.harness.wires}
        self._vehicles = {one.name: i for i, one in enumerate(plan.built.train.vehicles)}

    def __call__(self, found: Finding) -> str:
        """Return the key of what a finding is about; empty where that is nothing to be seen."""
        where = found.where
        if where in self._nets and found.subject in ("wire", "wiring", "nets"):
            return self._nets[where]
        if where in self._parts:
            return self._parts[where]
        if point := self._point(where):
            return self._place(found, *point)
        if wires := self._named_wires(where) or self._named_wires(found.message):
            return self._together(found, wires)
        if where in self._vehicles:
            return f"vehicle-{self._vehicles[where]}"
        return self._together(found, self._listed(where))

    def _point(self, where: str) -> tuple[str, Vec] | None:
        """Return the place in a vehicle that is named by its figures or by its hole."""
        if (told := _POINT.match(where)) and told[1] in self._vehicles:
            return told[1], (float(told[2]), float(told[3]), float(told[4]))
        name, _, hole = where.rpartition(", ")
        port = self._plan.built.train.vehicle(name).vehicle.port(hole) if name in self._vehicles else None
        return (name, port.box.center) if port is not None else None

    def _place(self, found: Finding, vehicle: str, at: Vec) -> str:
        place = self._vehicles[vehicle]
        key = f"place-{place}-{'-'.join(number(value, 1) for value in at)}"
        self._say(key, found, {"at": [place, *(round(value, 1) for value in at)]})
        return key

    def _named_wires(self, text: str) -> list[str]:
        numbers = [int(one) for told in _WIRES.findall(text) for one in told.split(", ")]
        return [f"wire-{one}" for one in dict.fromkeys(numbers) if one in self._wires]

    def _listed(self, where: str) -> list[str]:
        """Return the keys of parts, or of the two vehicles, that a place names one after another."""
        if (told := _SIDES.match(where)) and told[1] in self._vehicles and told[2] in self._vehicles:
            return [f"vehicle-{self._vehicles[name]}" for name in (told[1], told[2])]
        names = [name.split(" in ")[0].removeprefix("regulator of ") for name in where.split(", ")]
        return [self._parts[name] for name in names if name in self._parts]

    def _together(self, found: Finding, keys: list[str]) -> str:
        if len(keys) < 2:
            return keys[0] if keys else ""
        key = f"all-{'-'.join(keys)}"
        self._say(key, found, {"keys": keys})
        return key

    def _say(self, key: str, found: Finding, more: dict[str, object]) -> None:
        words = {"name": shorten(found.where, 80), "detail": shorten(f"{clean(found.message)}", 200)}
        self.words.setdefault(key, {**words, **more})
