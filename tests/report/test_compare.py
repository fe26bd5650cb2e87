"""Two plans side by side: every change is found, and nothing else."""

from __future__ import annotations

import io
from dataclasses import replace

from rich.console import Console

from fitplan.model.solids import Place
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.report.comparison import compare_plans, comparison_page, print_comparison

from .reading import PageReader
from .sample import HOSTILE, broken_plan, sample_plan, sample_plan_anew


def test_a_plan_equals_itself() -> None:
    """Nothing has changed between a plan and the same plan."""
    comparison = compare_plans(sample_plan(), sample_plan_anew())
    assert comparison.same
    assert "Nothing has changed" in comparison_page([comparison])


def test_a_moved_part_is_a_change_of_place() -> None:
    """A part moved by 8 mm is told with both places; a thousandth of a millimetre is not."""
    plan = sample_plan()
    first = plan.built.placements[0]
    for shift, told in ((8.0, True), (0.001, False)):
        x, y, z = first.place.offset
        moved = replace(first, place=Place(first.place.pose, (x + shift, y, z)))
        other = replace(plan, built=replace(plan.built, placements=(moved, *plan.built.placements[1:])))
        changes = compare_plans(plan, other).changes
        assert [(c.subject, c.what) for c in changes] == ([("places", "cells")] if told else [])


def test_part_vehicle_wire_finding_and_verdict_changes_are_told() -> None:
    """A lost part, a longer wire, a rebuilt verdict and a gone finding each give one change."""
    before, after = sample_plan(), broken_plan()
    wires = list(after.built.harness.wires)
    wires[0] = replace(wires[0], cut_mm=wires[0].cut_mm + 10)
    after = replace(
        after,
        built=replace(after.built, harness=replace(after.built.harness, wires=tuple(wires))),
        outcomes=after.outcomes[:1],
    )
    comparison = compare_plans(before, after)
    told = {(change.subject, change.how) for change in comparison.changes}
    assert told == {("verdict", "changed"), ("parts", "gone"), ("wires", "changed"), ("findings", "gone")}
    figures = {figure.name: figure for figure in comparison.figures}
    assert figures["wire to cut"].difference == 10
    assert figures["parts in place"].difference == -1
    assert figures["stops"].difference == -1


def test_comparison_is_shown_in_the_terminal_and_as_a_page() -> None:
    """Both show every change, and the page asks for nothing and runs nothing."""
    comparison = compare_plans(sample_plan(), broken_plan())
    out = io.StringIO()
    print_comparison(comparison, Console(file=out, width=100))
    read = PageReader(comparison_page([comparison]))
    for change in comparison.changes:
        assert change.what.split()[0] in out.getvalue()
        assert change.what in read.text
    assert read.scripts == []
    assert max(map(len, out.getvalue().splitlines())) <= 100


def test_hostile_names_are_text_in_a_comparison() -> None:
    """Names from both plans come out as text: the page has only its own elements."""
    plain = PageReader(comparison_page([compare_plans(sample_plan("a"), broken_plan("b"))]))
    for name in HOSTILE:
        read = PageReader(comparison_page([compare_plans(sample_plan("a"), broken_plan(name))]))
        assert [tag for tag, _ in read.tags] == [tag for tag, _ in plain.tags]


def test_what_is_added_and_what_comes_out_are_compared() -> None:
    """Another piece under a part, and one more part to take out, are one change each."""
    plan = sample_plan()
    carried = next(place for place in plan.built.placements if place.shelf is not None)
    assert carried.shelf is not None
    (piece,) = carried.shelf.pieces
    higher = replace(carried.shelf, pieces=(piece, replace(piece, name="plate 2 × 3")))
    placements = tuple(
        replace(place, shelf=higher) if place is carried else place for place in plan.built.placements
    )
    cells, other = (place.need for place in plan.built.placements[:2])
    up = (("+z", 40.0),)
    last = WayOut((cells,), "roof", up)
    entry = Exchanged(cells, plan.built.placements[0].vehicle, "cells", True, True, True, (), (), last)
    more = replace(entry, first=(WayOut((other,), "roof", up),))
    before = replace(plan, built=replace(plan.built, exchanged=(entry,)))
    after = replace(plan, built=replace(plan.built, placements=placements, exchanged=(more,)))
    told = {change.subject: change for change in compare_plans(before, after).changes}
    assert set(told) == {"added", "exchange"}
    assert told["added"].after == "plates under it: plate 3 × 6, plate 2 × 3"
    assert told["exchange"].after == f"open roof; take out {other}"
