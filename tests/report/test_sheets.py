"""The printed sheets: measured on the rendered page, read back as text, and kept on the paper."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid
from fitplan.report.drawings.drawing import Circle, Drawing, Group, Label, Path, Rect, Shape
from fitplan.report.drawings.layer_drawing import HEAD, SIDE
from fitplan.report.drawings.pdf import text_width
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.drawings.wiring_layout import wiring_layout
from fitplan.report.sheets.printed_sheets import (
    CHECK,
    EDGE,
    PAPERS,
    Paper,
    sheet_pages,
    sheets_bytes,
    windows,
)
from fitplan.units import STUD

from .sample import HOSTILE, broken_plan, sample_plan

POINT = 25.4 / 72
DOTS = 24.0
"""Dots a millimetre when a page is rendered to be measured."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


@pytest.fixture(scope="module")
def document(plan: Plan) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(sheets_bytes(plan))


def darkness(
    page: pypdfium2.PdfPage, left: float, top: float, right: float, bottom: float
) -> NDArray[np.float64]:
    """Render a part of a page, in mm from its upper left corner: 0 white, 1 black."""
    wide, high = (size * POINT for size in page.get_size())
    crop = (left / POINT, (high - bottom) / POINT, (wide - right) / POINT, top / POINT)
    picture = page.render(scale=DOTS * POINT, crop=crop, grayscale=True).to_numpy()
    found: NDArray[np.float64] = 1.0 - picture.reshape(picture.shape[0], -1).astype(np.float64) / 255.0
    return found


def marks_along(strip: NDArray[np.float64]) -> list[float]:
    """Middles of the upright marks in a strip, in mm from its left edge."""
    dark = strip.mean(axis=0)
    on = dark > dark.max() * 0.25
    edges = np.flatnonzero(np.diff(np.concatenate(([0], on.astype(int), [0]))))
    found = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        weights = dark[start:end]
        found.append(float(((np.arange(start, end) + 0.5) * weights).sum() / weights.sum()) / DOTS)
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_stud_pitch_measures_eight_millimetres_on_the_page(plan: Plan, paper: Paper) -> None:
    """The stud marks under a layer drawing, measured on the rendered page, are 8.0 ± 0.05 mm apart.

    The pitch of 8 mm is common practice, no source.
    """
    document = pypdfium2.PdfDocument(sheets_bytes(plan, paper))
    number = next(i for i, page in enumerate(sheet_pages(plan, paper)) if "layer by layer" in page.title)
    vehicle = plan.built.train.vehicles[0].vehicle
    first = TOP_OF_FIRST_LAYER + HEAD + vehicle.width
    strip = darkness(
        document[number], EDGE + SIDE - 2, first + 0.9, EDGE + SIDE + vehicle.length + 2, first + 1.6
    )
    marks = marks_along(strip)
    assert len(marks) == vehicle.studs_long + 1
    pitches = np.diff(marks)
    assert np.abs(pitches - 8.0).max() < 0.05
    assert (marks[-1] - marks[0]) / vehicle.studs_long == pytest.approx(8.0, abs=0.005)


TOP_OF_FIRST_LAYER = 26.0
"""Where the first layer drawing begins: under the head and the line of signs, in mm."""


def test_check_ruler_measures_what_it_says(document: pypdfium2.PdfDocument) -> None:
    """On every page the check ruler's ends are 100 mm apart, within 0.05 mm."""
    for page in document:
        high = page.get_size()[1] * POINT
        strip = darkness(page, EDGE - 3, high - 6.5 - 1.4, EDGE + CHECK + 3, high - 6.5 - 0.5)
        marks = marks_along(strip)
        assert len(marks) == 11
        assert marks[-1] - marks[0] == pytest.approx(CHECK, abs=0.05)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_pages_have_the_size_of_the_paper_and_ask_not_to_be_scaled(plan: Plan, paper: Paper) -> None:
    """Sizes are those of ISO 216 and ANSI/ASME Y14.1, and the file tells printers not to scale."""
    data = sheets_bytes(plan, paper)
    for page in pypdfium2.PdfDocument(data):
        assert [size * POINT for size in page.get_size()] == pytest.approx(PAPERS[paper], abs=0.01)
    assert b"/PrintScaling /None" in data


def words(document: pypdfium2.PdfDocument) -> str:
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)


def test_text_is_text(plan: Plan, document: pypdfium2.PdfDocument) -> None:
    """Titles, part names, cut lengths, pins, layers and cautions can all be read back as text."""
    text = words(document)
    for entry in plan.built.train.vehicles:
        assert f"{entry.name}, layer by layer, 1:1" in text
    for placement in plan.built.placements:
        assert placement.part.name in text
    for wire in plan.built.harness.wires:
        assert f"{wire.cut_mm:g}" in text
    for use in plan.built.pin_map:
        assert use.serves in text
    assert "engine room: 22.4 to 28.8 mm above the rail (2 plates)" in text
    assert "take out rear grille" in text
    assert "never charge them" in text
    assert f"sheet 1 of {len(document)}" in text


def test_sheets_are_the_same_twice(plan: Plan) -> None:
    """The file holds no clock and no chance."""
    assert sheets_bytes(plan) == sheets_bytes(sample_plan())


@pytest.mark.parametrize("name", ["".join(HOSTILE), HOSTILE[0], HOSTILE[1]], ids=["all", "script", "formula"])
def test_hostile_names_are_printed_as_text(name: str) -> None:
    """Sheets of a train with hostile names are made, stay on the paper, and show the printable ones."""
    plan = broken_plan(name)
    document = pypdfium2.PdfDocument(sheets_bytes(plan))
    if name.isascii() and name.isprintable() and len(name) < 30:
        assert f"brain{name}" in words(document).replace("\n", "").replace("\r", "")


def extents(shapes: list[Shape] | tuple[Shape, ...]) -> list[tuple[float, float]]:
    """Corners of everything that is drawn."""
    found: list[tuple[float, float]] = []
    for shape in shapes:
        match shape:
            case Group():
                found += extents(shape.shapes)
            case Rect():
                found += [(shape.x, shape.y), (shape.x + shape.w, shape.y + shape.h)]
            case Circle():
                found += [(shape.x - shape.r, shape.y - shape.r), (shape.x + shape.r, shape.y + shape.r)]
            case Path():
                found += shape.points
            case Label() if not shape.turn:
                wide = text_width(shape.text, shape.size, shape.bold)
                start = shape.x - {"start": 0.0, "middle": wide / 2, "end": wide}[shape.anchor]
                found += [(start, shape.y), (start + wide, shape.y - shape.size)]
            case Label():
                found.append((shape.x, shape.y))
    return found


def off_paper(pages: list[Drawing]) -> list[tuple[str, tuple[float, float]]]:
    return [
        (page.title, point)
        for page in pages
        for point in extents(page.shapes)
        if not (-0.01 <= point[0] <= page.width + 0.01 and -0.01 <= point[1] <= page.height + 0.01)
    ]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_is_drawn_off_the_paper(plan: Plan, paper: Paper) -> None:
    """Every shape and every text of every sheet lies on its paper."""
    assert off_paper(sheet_pages(plan, paper)) == []
    assert off_paper(sheet_pages(broken_plan(" with a rather long name that goes on and on"), paper)) == []


def long_train(studs: int) -> Plan:
    """The sample with its last vehicle made longer by a plain floor."""
    plan = sample_plan()
    train = plan.built.train
    last = train.vehicles[-1]
    floor = BodySolid(Box((0.0, 0.0, 16.0), (studs * STUD, 48.0, 22.4)), "fixed")
    vehicle = replace(last.vehicle, studs_long=studs, body=(floor, *last.vehicle.body))
    vehicles = (*train.vehicles[:-1], TrainVehicle(last.name, vehicle, last.turned))
    return replace(plan, built=replace(plan.built, train=replace(train, vehicles=vehicles)))


def test_a_vehicle_longer_than_the_paper_is_cut_at_studs() -> None:
    """A vehicle of 60 studs (480 mm) goes over several sheets that say where they join, all on the paper."""
    plan = long_train(60)
    pages = sheet_pages(plan)
    assert off_paper([page for page in pages if "Wiring" not in page.title]) == []
    labels = [s.text for page in pages for s in page.shapes if isinstance(s, Label)]
    assert labels.count("joins at stud 30") >= 2


@given(st.integers(1, 200), st.floats(40, 300))
def test_pieces_of_a_long_vehicle_cover_it(studs: int, room: float) -> None:
    """Pieces follow one another from end to end, on stud lines, none longer than there is room."""
    found = windows(studs * STUD, room)
    if found == [None]:
        assert studs * STUD <= room
        return
    pieces = [piece for piece in found if piece is not None]
    assert pieces[0][0] == 0
    assert pieces[-1][1] == studs * STUD
    for one, two in itertools.pairwise(pieces):
        assert one[1] == two[0]
    for low, high in pieces:
        assert 0 < high - low <= room
        assert math.isclose(low / STUD, round(low / STUD))


def test_a_long_wiring_drawing_is_cut_at_couplings() -> None:
    """The wiring of seven vehicles goes over several sheets, cut in couplings, together showing all of it."""
    plan = sample_plan(wagons=4)
    drawing = wiring_drawing(plan)
    pages = [page for page in sheet_pages(plan) if page.title.startswith("Wiring")]
    assert len(pages) >= 2
    text = [words_of(page.shapes) for page in pages]
    for crossing in plan.built.harness.crossings:
        assert any(crossing.name in found for found in text)
    cuts = wiring_layout(plan).cuts
    assert len(cuts) == 6
    assert all(0 < cut < drawing.width for cut in cuts)
    data = pypdfium2.PdfDocument(sheets_bytes(plan))
    first = next(i for i, page in enumerate(sheet_pages(plan)) if page.title.startswith("Wiring"))
    seen = "".join(data[first + i].get_textpage().get_text_bounded() for i in range(len(pages)))
    for wire in plan.built.harness.wires:
        if "pin" in (wire.start.kind, wire.end.kind):
            assert f"{wire.number} {wire.colour}" in seen


def words_of(shapes: list[Shape] | tuple[Shape, ...]) -> set[str]:
    found: set[str] = set()
    for shape in shapes:
        if isinstance(shape, Group):
            found |= words_of(shape.shapes)
        elif isinstance(shape, Label):
            found.add(shape.text)
    return found


def test_a_train_that_cannot_be_built_has_no_building_sheets() -> None:
    """Page one says so in red and what is short; nothing is there to cut, join, assemble or tick off."""
    plan = broken_plan()
    assert plan.unplaced
    pages = sheet_pages(plan)
    titles = [page.title for page in pages]
    assert titles[0] == "Not to be built as it is"
    assert not {"Cut list", "Joints, connectors and couplings", "Pin map"} & set(titles)
    assert titles[-1] == "Findings and care"
    document = pypdfium2.PdfDocument(sheets_bytes(plan))
    first = document[0].get_textpage().get_text_range()
    for need, _ in plan.unplaced:
        assert f"{need} has no place" in first.replace("\r\n", " ")
    assert "What was asked of each vehicle" in first
