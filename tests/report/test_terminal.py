"""The terminal's tables: stable without a terminal, within 100 columns, and safe with any name."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.console import Console, RenderableType

from fitplan.files.catalogue import examples_folder
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.report.lists.every_list import all_lists
from fitplan.report.lists.wording import shorten
from fitplan.report.terminal.brief import print_brief
from fitplan.report.terminal.catalogue_tables import part_details, parts_table
from fitplan.report.terminal.layer_text import layers_text, part_text
from fitplan.report.terminal.summary import summary_text
from fitplan.report.terminal.tables import (
    findings_table,
    fit_table,
    harness_table,
    plan_summary,
    sheet_table,
    verdict_text,
)

from .sample import HOSTILE, broken_plan, catalogue, sample_plan


def show(*what: RenderableType, width: int = 100) -> str:
    out = io.StringIO()
    console = Console(file=out, width=width, force_terminal=False)
    for entry in what:
        console.print(entry)
    return out.getvalue()


def everything(tag: str = "") -> str:
    plan = broken_plan(tag)
    vehicle = plan.built.train.vehicles[0]
    here = [placement for placement in plan.built.placements if placement.vehicle == vehicle.name]
    return show(
        verdict_text("not decided"),
        plan_summary(plan),
        fit_table(plan.fit),
        findings_table(plan.findings),
        harness_table(plan),
        layers_text(vehicle.vehicle, here),
        parts_table(catalogue(tag).values()),
        *(part_details(part) for part in catalogue(tag).values()),
        *(sheet_table(sheet, 100) for sheet in all_lists(plan)),
    )


def test_nothing_is_wider_than_the_console() -> None:
    """Every line of every table fits into 100 columns."""
    assert max(cell_len(line) for line in everything().splitlines()) <= 100


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_cannot_steer_the_terminal(name: str) -> None:
    """No control character reaches the terminal but line breaks, whatever a name holds."""
    text = everything(name) + summary_text(broken_plan(name))
    assert not [c for c in text if (ord(c) < 32 and c != "\n") or 0x202A <= ord(c) <= 0x202E]
    text.encode("utf-8")


def test_markup_in_names_is_shown_and_not_obeyed() -> None:
    """Square brackets in a name are printed as they stand."""
    assert "[bold red]x[/]" in show(plan_summary(sample_plan("[bold red]x[/]"))).replace("\n", "")


def test_same_plan_same_text() -> None:
    """Two renderings are equal to the letter."""
    assert everything() == everything()


def test_summary_table_names_what_is_missing() -> None:
    """A part without a place and a pin that is not reached are both said, with the reason."""
    text = show(plan_summary(broken_plan()))
    assert "tail lamp has no place: too long by 2.0 mm" in text
    assert "brain.A0 is not reached" in text
    assert "tail lamp.IN is not reached" not in text
    assert "cannot fit" in text


def test_verdicts_and_weights_are_words_without_colour() -> None:
    """Colour is never the only sign: the words stand in the plain text."""
    plan = sample_plan()
    text = show(fit_table(plan.fit), findings_table(plan.findings))
    for word in ("fits", "cannot fit", "not decided", "stop", "caution", "note"):
        assert word in text
    assert show(findings_table(())).strip() == "no findings"


def test_layers_show_parts_and_bricks_where_they_are() -> None:
    """In the loco's engine room the controller's letter covers its own half studs and no others.

    Source: the sample's own drawing; the board lies at x 109 … 155 mm, y 10 … 28 mm.
    """
    plan = sample_plan()
    vehicle = plan.built.train.vehicles[0]
    here = [placement for placement in plan.built.placements if placement.need == "brain"]
    text = show(layers_text(vehicle.vehicle, here))
    # the drawing is indented by two; columns are half studs of 4 mm
    rows = [line[2:] for line in text.splitlines() if line.startswith("  ") and "a" in line]
    columns = {place for row in rows for place, sign in enumerate(row) if sign == "a"}
    middles = [(column + 0.5) * 4 for column in columns]
    assert min(middles) >= 109
    assert max(middles) <= 155
    assert len(columns) == sum(109 <= (column + 0.5) * 4 <= 155 for column in range(44))
    assert "▒" in text
    assert "~" in text


def test_layers_show_thin_walls_at_their_side() -> None:
    """The tram's panels of 1.5 mm stand at the outer sides, its bricks one stud thick at the rear end."""
    tram = read_train(examples_folder() / "market-tram" / "train.yaml").vehicles[0].vehicle
    rows = show(layers_text(tram)).split("lower walls")[1].splitlines()[1:7]
    left, right = rows[0][2:], rows[-1][2:]
    assert left.startswith("██▔▔▔")
    assert right.startswith("██▁▁▁")
    assert all(row[2:].startswith("██··") for row in rows[1:-1])


def test_part_drawing_is_round_where_the_part_is() -> None:
    """The emitter, an upright cylinder, leaves the corners of its box empty seen from above."""
    text = show(part_text(catalogue()["emitter-5mm"]))
    first = text.split("from above", 1)[1].splitlines()[1][2:]
    assert first.startswith(" ")
    assert "▒" in first


def test_text_summary_says_the_same_as_the_plan() -> None:
    """Verdict, places, couplings, findings and cautions are all in the summary, within 100 columns."""
    plan = sample_plan()
    text = summary_text(plan)
    assert plan.verdict in text
    assert all(placement.part.name in text for placement in plan.built.placements)
    assert "7 conductors" in text
    assert "233.3 against 160 mm" in text
    assert "never charge them" in text
    assert max(map(len, text.splitlines())) <= 100


def brief(plan: Plan, width: int = 80) -> list[str]:
    out = io.StringIO()
    print_brief(plan, Console(file=out, width=width, force_terminal=False))
    return out.getvalue().splitlines()


@pytest.mark.parametrize("plan", [sample_plan(), broken_plan()], ids=["sample", "broken"])
def test_a_plan_in_brief_is_one_screen(plan: Plan) -> None:
    """22 lines of 80 columns at most; the verdict first and last; places and actions between."""
    lines = brief(plan)
    assert len(lines) <= 22
    assert max(cell_len(line) for line in lines) <= 80
    sign = lines[0].split(" ", 1)[0]
    assert lines[-1].startswith(sign)
    text = "\n".join(lines)
    for place in plan.built.placements:
        assert place.need in text
    for need, _ in plan.unplaced:
        assert f"{need} has no place" in text
    stops = [found for found in plan.findings if found.severity == "stop"]
    assert all(found.remedy[:20] in text for found in stops[:3])


def test_a_long_train_in_brief_is_told_vehicle_by_vehicle() -> None:
    """With twenty parts no line is added for each of them."""
    plan = sample_plan()
    many = tuple(
        replace(place, need=f"{place.need} {copy}") for copy in range(4) for place in plan.built.placements
    )
    longer = replace(plan, built=replace(plan.built, placements=many))
    lines = brief(longer)
    assert len(lines) <= 22
    assert any(line.startswith("  shunter: ") for line in lines)


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_cannot_steer_the_brief_either(name: str) -> None:
    text = "\n".join(brief(broken_plan(name)))
    assert not [c for c in text if (ord(c) < 32 and c != "\n") or 0x202A <= ord(c) <= 0x202E]


@pytest.mark.parametrize("width", [60, 100, 200])
def test_no_word_of_a_check_table_is_broken(width: int) -> None:
    """Every word of every list of a plan stands whole on some line, as a table or row by row."""
    for sheet in all_lists(sample_plan()):
        text = show(sheet_table(sheet, width), width=width)
        shown = set(text.replace("\u00a0", " ").replace(";", " ").replace(":", " ").split())
        words = {
            word
            for row in sheet.rows
            for cell in row
            if isinstance(cell, str)
            for word in shorten(cell, 120).split()
        }
        lost = {word for word in words if word.isalpha() and len(word) < width // 2} - shown
        assert not lost, (sheet.title, lost)
