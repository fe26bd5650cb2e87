"""A plan's verdict and a fit table's in words: a sign's line, and a sentence or two for a newcomer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fitplan.budget import LATE
from fitplan.model.found import Finding
from fitplan.model.plan import Plan
from fitplan.model.proposed import Verdict
from fitplan.model.train import ADDED_WAGON
from fitplan.model.verdict import FitVerdict, grade

WORST_FIRST = ("safety", "supply")
"""Subjects whose stops are named before all others: what can hurt somebody."""


def hindrances(plan: Plan) -> tuple[str, ...]:
    """Return what keeps a plan whose parts all have places from working, the worst first."""
    return tuple(dict.fromkeys(_hindrances(plan)))


def _hindrances(plan: Plan) -> Iterator[str]:
    stops = [finding for finding in plan.findings if finding.severity == "stop"]
    stops.sort(key=lambda finding: finding.subject not in WORST_FIRST)
    yield from (_words_of(finding) for finding in stops if finding.subject in WORST_FIRST)
    for lost in plan.unreached:
        where = f"{lost.net} reaches {lost.owner}" if lost.owner else f"{lost.net} can be laid"
        if lost.undecided:
            yield f"it is not decided whether {where}: {lost.reason}"
        else:
            yield f"{lost.net} does not reach {lost.owner}: {lost.reason}"
    for blocked in plan.assembly_blocked:
        yield f"it cannot be assembled as it lies: {blocked}"
    for blocked in plan.work.blocked:
        yield f"no order of work was found that leads all wires: {blocked}"
    yield from (_words_of(finding) for finding in stops if finding.subject not in WORST_FIRST)


def stops_in_words(findings: Iterable[Finding]) -> tuple[str, ...]:
    """Return what stops a train before anything has a place, the worst first."""
    stops = [finding for finding in findings if finding.severity == "stop"]
    stops.sort(key=lambda finding: finding.subject not in WORST_FIRST)
    return tuple(dict.fromkeys(_words_of(finding) for finding in stops))


def check_words(stops: tuple[str, ...]) -> str:
    """Return what `check` comes to in one line: nothing has a place yet."""
    return f"stopped before anything has a place: {stops[0]}" if stops else "nothing stops it so far"


def _words_of(finding: Finding) -> str:
    message = finding.message.rstrip(".")
    return message if finding.where in message or not finding.where else f"{finding.where}: {message}"


def verdict_words(plan: Plan) -> str:
    """Return the verdict in one sentence, without a full stop; it tells what a deadline cut."""
    found = grade(plan)
    words: str = found
    if found == "fits, but":
        words = f"{plan.verdict}, but {hindrances(plan)[0]}"
    if not plan.cut_short:
        return words
    late = f"{LATE} before all was done ({', '.join(plan.cut_short)})"
    return f"{words}: {late}" if found == "not decided" else f"{words}; {late}"


def summarise(plan: Plan) -> str:
    """Return the verdict as a sentence or two that a newcomer understands."""
    text = _left_out(plan) if plan.unplaced else _placed(plan)
    if plan.cut_short:
        text += f" Not all questions were answered: {LATE} ({', '.join(plan.cut_short)})."
    return text


def _left_out(plan: Plan) -> str:
    name, why = plan.unplaced[0]
    rest = [other for other, _ in plan.unplaced[1:]]
    others = f", nor for {', '.join(rest)}" if rest else ""
    why = f"{why[:1].upper()}{why[1:]}."
    if plan.verdict == "not decided":
        open_ = f"no place was found for {name}{others}, nor is it proved that there is none"
        return f"Not decided: {open_}. {why}"
    return f"Not everything fits: there is no place for {name}{others}. {why}"


def _placed(plan: Plan) -> str:
    built = plan.built
    homes = []
    for need in built.train.needs:
        placement = built.placement(need.name)
        if need.choice is not None and placement is not None:
            homes.append(f"the {placement.part.name} goes into the {placement.vehicle}")
    where = "; ".join(homes) if homes else f"all {len(built.placements)} parts have a place"
    hindered = len(hindrances(plan))
    text = f"Everything {'has a place' if hindered else 'fits'}: {where}."
    for entry in built.train.vehicles:
        if entry.name == ADDED_WAGON:
            text += f" It takes one wagon more, to build: {entry.vehicle.name}, {entry.vehicle.size_words}."
    for rebuild in built.rebuilds:
        text += f" Take out of the {rebuild.vehicle}: {', '.join(rebuild.remove)}."
    for place in built.placements:
        if place.shelf is not None and place.shelf.cost:
            text += f" Add for {place.need} in the {place.vehicle} {place.shelf.words}."
    wires = built.harness.wires
    metres = sum(wire.cut_mm for wire in wires) / 1000
    text += f" {len(wires)} wires, {metres:.2f} m in all."
    if hindered:
        text += f" {hindered} thing{'s' if hindered > 1 else ''} must be mended before it runs."
    if not plan.proved:
        text += " A better choice may exist: not all choices are decided."
    return text


def fit_words(found: FitVerdict, stops: tuple[str, ...] = ()) -> str:
    """Return the verdict of a fit table in one line; ``stops`` are what hinders the train anyway."""
    if stops and found.holds:
        return f"{found.verdict}, but {stops[0]}" + (f"; {LATE}" if found.late else "")
    named = ", ".join(found.needs)
    words: dict[Verdict, str] = {
        "fits": "fits: everything that was asked about has a vehicle",
        "fits after a rebuild": f"fits after a rebuild: {named}",
        "not decided": f"not decided: {named}",
        "cannot fit": f"cannot fit: no vehicle holds {named}",
    }
    return words[found.verdict] + (f"; {LATE}" if found.late else "")
