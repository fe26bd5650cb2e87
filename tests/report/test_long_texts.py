"""Long texts: what is to be done stands whole on sheets and terminal, labels keep colours, heads rows."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from fitplan.model.found import Finding
from fitplan.report.drawings.bench_drawing import FLAG, label_drawing
from fitplan.report.drawings.drawing import Label
from fitplan.report.drawings.pdf import text_width
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.sheets.pad import BOTTOM, PAPERS, TOP, Pad
from fitplan.report.terminal.tables import findings_table

from .sample import sample_plan

BRICKS = " and ".join(
    f"1 × {n} studs, {n} plates high of brick (from rear {n}, from right 1 stud, above rail {n}.2 mm)"
    for n in range(1, 9)
)
"""As long as what says which bricks go for a wider window."""


def texts_of(page: object) -> list[Label]:
    return [shape for shape in page.shapes if isinstance(shape, Label)]  # type: ignore[attr-defined]


def test_what_to_do_is_printed_whole() -> None:
    """All words of 640 characters stand on the sheet in their order, in a column a quarter of it wide."""
    pad = Pad("A4", "t")
    pad.turn("t")
    row = ("stop", "eyes", BRICKS, BRICKS)
    pad.table(PlanList("findings", "Findings", ("", "where", "finding", "what to do"), (row,)))
    words = " ".join(one.text for one in texts_of(pad.page))
    assert "…" not in words
    assert words.endswith(BRICKS)


def test_what_to_do_is_told_whole_on_a_terminal() -> None:
    found = Finding("view", "stop", "eyes", BRICKS, 1.0, 0.0, "mm", BRICKS, "source")
    out = io.StringIO()
    Console(file=out, width=4000).print(findings_table([found]))
    assert out.getvalue().count(BRICKS) == 2


@pytest.mark.parametrize("left", range(14, 48, 2))
def test_no_heads_of_a_table_stand_without_a_row(left: int) -> None:
    """However little room is left: heads four lines high stay with their first row."""
    pad = Pad("A4", "t")
    pad.turn("t")
    pad.y = PAPERS["A4"][1] - BOTTOM - left
    head = "sag above the rail (mm)"
    pad.table(PlanList("t", "Couplings", (head,) * 24, (tuple(f"{n}" for n in range(24)),)))
    for page in pad.pages:
        texts = [one.text for one in texts_of(page)]
        assert ("sag" in " ".join(texts)) == ("17" in texts)
    assert all(one.y <= PAPERS["A4"][1] - BOTTOM for page in pad.pages for one in texts_of(page))
    assert pad.y > TOP


@pytest.mark.parametrize("net", ["eyes", "front eyes echo", "the left lamp at the front " * 3])
def test_a_label_bears_its_colour_and_nothing_runs_over_its_edge(net: str) -> None:
    wire = replace(sample_plan().built.harness.wires[0], net=net)
    page = label_drawing(wire, wire.start)
    texts = texts_of(page)
    assert sum(one.text.endswith(f", {wire.colour}") for one in texts) == 2
    for one in texts:
        half = 0.0 if one.x < FLAG[0] else page.width - FLAG[0]
        assert one.x + text_width(one.text, one.size, one.bold) <= half + FLAG[0]
    whole = any(one.text == f"{net}, {wire.colour}" for one in texts)
    assert whole == (len(net) < 20)


@pytest.mark.parametrize("wide", [False, True])
def test_what_is_said_under_a_list_has_a_sheet_with_a_row_of_it(wide: bool) -> None:
    """Whatever the number of rows, in one column or two: none of the sheets holds the note alone."""
    text = "w" * 160 if wide else "w"
    for count in range(90):
        rows = tuple((f"row {number}", text) for number in range(count))
        pad = Pad("A4", "t")
        pad.turn("Sheet")
        pad.table(PlanList("list", "List", ("what", "why"), rows, "said below"))
        said = [label.text for page in pad.pages for label in texts_of(page)]
        assert said.count("said below") == 1
        assert [one for one in said if one.startswith("row ")] == [f"row {number}" for number in range(count)]
        last = [label.text for label in texts_of(pad.pages[-1])]
        assert not count or any(one.startswith("row ") for one in last), count
