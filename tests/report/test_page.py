"""The report page without a browser: its numbers, its safety, its size, and that it asks for nothing."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import pytest

import fitplan.report.page.page as page_module
from fitplan.model.plan import Plan
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import clean, number, tells_a_figure
from fitplan.report.page.page import page_bytes

from .reading import PageReader
from .sample import HOSTILE, broken_plan, sample_plan, sample_plan_anew

FOLDER = Path(page_module.__file__).parent


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


@pytest.fixture(scope="module")
def read(plan: Plan) -> PageReader:
    return PageReader(page_bytes(plan).decode("utf-8"))


def floats(cells: list[str]) -> list[float]:
    return [float(cell) for cell in cells]


def test_harness_numbers_equal_the_plans(plan: Plan, read: PageReader) -> None:
    """Number, gauge, bare way and cut length of every wire on the page are those of the plan."""
    table = read.table("Wires")
    wires = plan.built.harness.wires
    assert [int(cell) for cell in table.column("wire")] == [wire.number for wire in wires]
    assert [int(cell) for cell in table.column("gauge (AWG)")] == [wire.awg for wire in wires]
    assert floats(table.column("cut length (mm)")) == [wire.cut_mm for wire in wires]
    assert floats(table.column("bare way (mm)")) == pytest.approx([w.bare_mm for w in wires], abs=0.051)


def test_places_equal_the_plans(plan: Plan, read: PageReader) -> None:
    """Each part's lower corner and size on the page are those of its solids where they lie."""
    table = read.table("Where every part lies")
    for axis, head in enumerate(("from rear (mm)", "from right (mm)", "above rail (mm)")):
        for cell, placement in zip(table.column(head), plan.built.placements, strict=True):
            solids = [placement.place.move_solid(solid) for solid in placement.part.envelope]
            assert float(cell) == pytest.approx(min(s.bounds.low[axis] for s in solids), abs=0.0051)
    assert table.column("need") == [placement.need for placement in plan.built.placements]


def test_findings_fit_options_and_couplings_equal_the_plans(plan: Plan, read: PageReader) -> None:
    """Figures and limits of findings, missing mm, scores and free lengths are read back unchanged."""
    for found in plan.findings:
        said = (
            () if found.severity == "note" and found.remedy.startswith("nothing to do") else (found.remedy,)
        )
        for part in (found.message, *said, found.source):
            assert part in read.text
        if tells_a_figure(found.unit):
            assert number(found.figure, 3) in read.text
    fit = read.table("Each candidate in each vehicle, beside what must sit there")
    assert floats(fit.column("missing (mm)")) == [row.missing_mm for row in plan.fit]
    assert fit.column("verdict") == [row.verdict for row in plan.fit]
    options = read.table("Options and what each costs")
    assert sorted(floats(options.column("score"))) == sorted(option.score for option in plan.options)
    couplings = read.table("Couplings")
    crossings = plan.built.harness.crossings
    assert floats(couplings.column("free length (mm)")) == [crossing.free_mm for crossing in crossings]
    assert [int(cell) for cell in couplings.column("conductors")] == [c.conductors for c in crossings]


def test_plots_have_all_their_figures_as_tables(plan: Plan, read: PageReader) -> None:
    """Every point of every curve stands in the table under its plot, and so does every limit."""
    for outcome in plan.outcomes:
        for plot in outcome.plots:
            table = read.table(plot.title)
            cells = [cell for row in table.rows for cell in row]
            wanted = [(x, y) for curve in plot.curves for x, y in zip(curve.x, curve.y, strict=True)]
            rows = [row for row in table.rows if len(row) == 2 and re.fullmatch(r"-?[\d.]+", row[0])]
            assert [(float(a), float(b)) for a, b in rows] == [
                (pytest.approx(x, abs=6e-4), pytest.approx(y, abs=6e-4)) for x, y in wanted
            ]
            assert all(number(level, 3) in cells for _, level in plot.limits)


def test_pin_map_and_verdict_stand_on_the_page(plan: Plan, read: PageReader) -> None:
    """The verdict's sentence, the pin map and the choices not taken are there."""
    assert summarise(plan) in read.text
    assert read.table("Pin map").column("serves") == [use.serves for use in plan.built.pin_map]
    assert "not taken" in read.table("Options and what each costs").column("state")


def test_what_is_missing_is_said_first() -> None:
    """A part without a place, a pin not reached and a blocked assembly come before the picture."""
    text = page_bytes(broken_plan()).decode("utf-8")
    before = text[: text.index('<section id="picture"')]
    assert "tail lamp has no place." in before
    assert "1 pin is not reached: no port." in before
    assert "brain.A0 (tail)" in before
    assert "tail lamp.IN" not in before
    assert "cells is under brain" in before


def test_page_is_small_and_the_same_twice(plan: Plan) -> None:
    """The page is well under 3 MB and holds no clock and no chance."""
    first = page_bytes(plan)
    assert len(first) < 3_000_000
    assert first == page_bytes(sample_plan_anew())


def test_page_asks_for_nothing_from_outside(read: PageReader) -> None:
    """No element and no style points at a network address, and the policy allows none."""
    for tag, attributes in read.tags:
        for name in ("src", "href", "action", "data", "poster"):
            assert re.match(r"#|data:|$", attributes.get(name) or ""), (tag, attributes)
    for address in re.findall(r"url\(([^)]*)\)", "".join(read.styles)):
        assert address.startswith("data:")
    policy = next(a["content"] for t, a in read.tags if t == "meta" and a.get("http-equiv"))
    assert policy is not None
    assert policy.startswith("default-src 'none'")


def test_policy_allows_the_pages_own_script_only(read: PageReader) -> None:
    """The only script that the policy lets run is the bundled one, by its hash (CSP level 2, W3C)."""
    policy = next(a["content"] for t, a in read.tags if t == "meta" and a.get("http-equiv")) or ""
    script = next(text for text in read.scripts if not text.startswith("{"))
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy


def test_bundled_script_is_made_from_these_sources() -> None:
    """The committed bundle bears the hash of the sources beside it: rebuild after a change."""
    digest = hashlib.sha256()
    for path in sorted((FOLDER / "src").iterdir()):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    assert (FOLDER / "page.js.sources").read_text().strip() == digest.hexdigest()


def test_licences_of_what_is_inside_are_kept() -> None:
    """The 3D library's licence lies beside the bundle and is named in it; so is that of the fonts."""
    assert "MIT" in (FOLDER / "LICENSE-three.txt").read_text()
    assert "MIT licence" in (FOLDER / "page.js").read_text()[:200]
    fonts = FOLDER.parent / "fonts"
    assert "SIL Open Font License" in (fonts / "LICENSE-barlow.txt").read_text()
    assert "Bitstream Vera" in (fonts / "LICENSE-dejavu.txt").read_text()


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_are_text(name: str) -> None:
    """Whatever a name holds, the page has the same elements as with a plain name, and shows it as text."""
    plain = PageReader(page_bytes(broken_plan("p" * len(name))).decode("utf-8"))
    read = PageReader(page_bytes(broken_plan(name)).decode("utf-8"))
    outside_drawings = {"tspan", "text", "rect", "circle", "polyline", "polygon", "path", "g", "title"}
    tags = [[tag for tag, _ in reader.tags if tag not in outside_drawings] for reader in (plain, read)]
    assert tags[1] == tags[0]
    assert len(read.scripts) == 2
    data = json.loads(next(text for text in read.scripts if text.startswith("{")))
    assert clean(f"tail lamp{name}") not in data["words"]["part-0"]["name"]
    assert clean(f"brain{name}") in data["words"]["part-1"]["name"]
    assert clean(f"brain{name}").strip() in read.text
    assert not [attrs for _, attrs in read.tags if any(key.startswith("on") for key in attrs)]
