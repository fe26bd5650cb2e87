"""What changed between two plans: verdict, parts and places, wires and lengths, hours, findings."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from rich.console import Console, Group, RenderableType
from rich.text import Text

from fitplan.model.facts import mass_of
from fitplan.model.found import Severity
from fitplan.model.plan import Plan
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.wording import added_words, end_word, number, shorten
from fitplan.report.page.page import QUIET_POLICY, base_style, environment
from fitplan.report.terminal.tables import sheet_table

How: TypeAlias = Literal["added", "gone", "changed"]
SIGNS: dict[How, str] = {"added": "+", "gone": "−", "changed": "→"}
_MOVED = 0.05
"""Less than this many mm apart is the same place."""


@dataclass(frozen=True)
class Change:
    """One thing that differs; ``before`` or ``after`` is empty when it is not there."""

    subject: str
    what: str
    how: How
    before: str
    after: str


@dataclass(frozen=True)
class Figure:
    """A figure of both plans side by side."""

    name: str
    unit: str
    before: float
    after: float

    @property
    def difference(self) -> float:
        """After less before."""
        return self.after - self.before


@dataclass(frozen=True)
class Comparison:
    """Two plans side by side: figures, and every change by subject."""

    before: str
    after: str
    figures: tuple[Figure, ...]
    changes: tuple[Change, ...]

    @property
    def same(self) -> bool:
        """Whether nothing that is compared has changed."""
        return not self.changes and all(abs(figure.difference) < 1e-9 for figure in self.figures)


def compare_plans(before: Plan, after: Plan) -> Comparison:
    """Return what changed from one plan to the other; things are matched by their names."""
    changes = [
        *_named("verdict", {"verdict": before.verdict}, {"verdict": after.verdict}),
        *_parts(before, after),
    ]
    for subject, words in _WORDED:
        changes += _named(subject, words(before), words(after))
    return Comparison(
        before.built.train.name, after.built.train.name, _figures(before, after), tuple(changes)
    )


def _figures(before: Plan, after: Plan) -> tuple[Figure, ...]:
    def both(name: str, unit: str, of: Callable[[Plan], float]) -> Figure:
        return Figure(name, unit, round(float(of(before)), 3), round(float(of(after)), 3))

    return (
        both("parts in place", "", lambda plan: len(plan.built.placements)),
        both("parts without a place", "", lambda plan: len(plan.unplaced)),
        both("wires", "", lambda plan: len(plan.built.harness.wires)),
        both("wire to cut", "mm", lambda plan: sum(wire.cut_mm for wire in plan.built.harness.wires)),
        both("splices", "", lambda plan: len(plan.built.harness.splices)),
        both("pins not reached", "", lambda plan: len(plan.unreached)),
        both("conductors across", "", lambda plan: sum(c.conductors for c in plan.built.harness.crossings)),
        both("bricks to take out", "", lambda plan: sum(len(entry.remove) for entry in plan.built.rebuilds)),
        both("mass of the parts", "g", lambda plan: sum(mass_of(p.part) for p in plan.built.placements)),
        both("price of the parts", "", lambda plan: sum(p.part.price for p in plan.built.placements)),
        both("stops", "", lambda plan: _weighing(plan, "stop")),
        both("cautions", "", lambda plan: _weighing(plan, "caution")),
        both("notes", "", lambda plan: _weighing(plan, "note")),
        *_hours(before, after),
    )


def _weighing(plan: Plan, weight: Severity) -> int:
    return sum(found.severity == weight for found in plan.findings)


def _hours(before: Plan, after: Plan) -> Iterable[Figure]:
    """Compare the running times that the checks give: findings whose figure is in hours."""
    old, new = (
        {f"{found.subject}, {found.where}": found.figure for found in plan.findings if found.unit == "h"}
        for plan in (before, after)
    )
    for name in old:
        if name in new:
            yield Figure(name, "h", round(old[name], 3), round(new[name], 3))


def _parts(before: Plan, after: Plan) -> Iterable[Change]:
    old = {placement.need: placement for placement in before.built.placements}
    new = {placement.need: placement for placement in after.built.placements}
    for need in dict.fromkeys((*old, *new)):
        a, b = old.get(need), new.get(need)
        if a is None or b is None:
            words = [f"{entry.part.name} in {entry.vehicle}" if entry else "" for entry in (a, b)]
            yield Change("parts", need, "added" if a is None else "gone", words[0], words[1])
            continue
        if a.part.id != b.part.id:
            yield Change(
                "parts", need, "changed", f"{a.part.name} ({a.part.id})", f"{b.part.name} ({b.part.id})"
            )
        if a.vehicle != b.vehicle:
            yield Change("places", need, "changed", a.vehicle, b.vehicle)
        elif a.place.pose != b.place.pose or math.dist(a.place.offset, b.place.offset) > _MOVED:
            where = [
                f"{', '.join(number(value) for value in entry.place.offset)} mm, pose {entry.place.pose.name}"
                for entry in (a, b)
            ]
            yield Change("places", need, "changed", where[0], where[1])


def _wires(plan: Plan) -> dict[str, str]:
    """Match wires by net and ends; their numbers may differ."""
    found: dict[str, list[str]] = {}
    for wire in plan.built.harness.wires:
        key = f"{wire.net}: {end_word(wire.start)} to {end_word(wire.end)}"
        found.setdefault(key, []).append(f"{number(wire.cut_mm)} mm")
    return {key: ", ".join(lengths) for key, lengths in found.items()}


def _couplings(plan: Plan) -> dict[str, str]:
    return {
        f"{c.ahead} / {c.behind}": f"{c.conductors} conductors, {number(c.diameter_mm, 2)} mm thick,"
        f" {number(c.free_mm)} mm free"
        for c in plan.built.harness.crossings
    }


def _rebuilds(plan: Plan) -> dict[str, str]:
    return {
        entry.vehicle: f"take out {', '.join(entry.remove) or 'nothing'}; add {added_words(entry)}"
        for entry in plan.built.rebuilds
    }


def _added(plan: Plan) -> dict[str, str]:
    return {place.need: place.shelf.words for place in plan.built.placements if place.shelf is not None}


def _exchanged(plan: Plan) -> dict[str, str]:
    return {
        f"{entry.need}: {entry.access}": f"open {', '.join(entry.openings) or 'nothing'};"
        f" take out {', then '.join((*entry.bricks, *entry.parts_out)) or 'nothing'}"
        if entry.reached
        else "not reached"
        for entry in plan.built.exchanged
    }


def _findings(plan: Plan) -> dict[str, str]:
    """Match findings by subject, place and wording without its figures."""
    found: dict[str, str] = {}
    for entry in plan.findings:
        plain = "".join(c for c in entry.message if not c.isdigit())
        key = f"{entry.subject}, {entry.where}: {plain}"
        while key in found:
            key += " (again)"
        figure = f"{number(entry.figure, 2)} against {number(entry.limit, 2)} {entry.unit}"
        found[key] = f"{entry.severity}: {entry.message} [{figure}]"
    return found


_WORDED: tuple[tuple[str, Callable[[Plan], dict[str, str]]], ...] = (
    ("wires", _wires),
    ("couplings", _couplings),
    ("rebuild", _rebuilds),
    ("added", _added),
    ("exchange", _exchanged),
    ("findings", _findings),
)
"""What is compared by its words: its subject, and the words of each thing by its name."""


def _named(subject: str, old: dict[str, str], new: dict[str, str]) -> Iterable[Change]:
    for name in dict.fromkeys((*old, *new)):
        a, b = old.get(name, ""), new.get(name, "")
        if a != b:
            yield Change(subject, name, "added" if not a else "gone" if not b else "changed", a, b)


def comparison_sheets(comparison: Comparison) -> tuple[PlanList, PlanList]:
    """Return a comparison as two lists: figures side by side, and the changes."""
    figures = tuple(
        (
            f"{entry.name} ({entry.unit})" if entry.unit else entry.name,
            entry.before,
            entry.after,
            _signed(entry.difference),
        )
        for entry in comparison.figures
    )
    changes = tuple(
        (entry.subject, entry.what, f"{SIGNS[entry.how]} {entry.how}", entry.before, entry.after)
        for entry in comparison.changes
    )
    return (
        PlanList("figures", "Figures", ("figure", "before", "after", "difference"), figures),
        PlanList("changes", "Changes", ("subject", "what", "how", "before", "after"), changes),
    )


def _signed(value: float) -> str:
    sign = "+" if value > 0 else "−" if value < 0 else "±"
    return f"{sign}{number(abs(value), 2)}"


def comparison_text(comparison: Comparison, width: int) -> RenderableType:
    """Return a comparison for a terminal so many characters wide."""
    figures, changes = comparison_sheets(comparison)
    head = Text(f"{shorten(comparison.before, 60)} → {shorten(comparison.after, 60)}", "bold")
    if comparison.same:
        return Group(head, Text("Nothing has changed."))
    told = sheet_table(changes, width) if changes.rows else Text("No other change.")
    return Group(head, sheet_table(figures, width), told)


def print_comparison(comparison: Comparison, console: Console) -> None:
    """Print a comparison."""
    console.print(comparison_text(comparison, console.width))


def comparison_page(comparisons: Sequence[Comparison]) -> str:
    """Return comparisons as one HTML page without a script, in the report's look."""
    sections = [(one.before, one.after, () if one.same else comparison_sheets(one)) for one in comparisons]
    template = environment().get_template("comparison.html.j2")
    return template.render(policy=QUIET_POLICY, style=base_style(), sections=sections)
