"""The printed sheets: measured on the rendered page, read back as text, and kept on the paper."""

from __future__ import annotations

import itertools
import math
import re
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
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.report.drawings.drawing import Circle, Drawing, Group, Label, Path, Rect, Shape
from fitplan.report.drawings.layer_drawing import bench_of, is_blank, layer_drawing, layer_title
from fitplan.report.drawings.layer_frame import HEAD, SIDE
from fitplan.report.drawings.layer_wires import label_box, layer_wires
from fitplan.report.drawings.pdf import text_width
from fitplan.report.drawings.sheet_references import sheet_references, sheets_of
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.drawings.wiring_layout import wiring_layout
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.orientation import orientation
from fitplan.report.lists.wording import sentence
from fitplan.report.sheets.layer_sheets import windows
from fitplan.report.sheets.pad import BOTTOM, EDGE, PAPERS, Paper
from fitplan.report.sheets.printed_sheets import CHECK, printed_sheets, sheet_pages
from fitplan.units import STUD
from tests.conftest import Planned

from .sample import HOSTILE, broken_plan, sample_plan, sample_plan_anew

POINT = 25.4 / 72
DOTS = 24.0
"""Dots a millimetre when a page is rendered to be measured."""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


@pytest.fixture(scope="module")
def document(plan: Plan) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(printed_sheets(plan)[0])


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
    document = pypdfium2.PdfDocument(printed_sheets(plan, paper)[0])
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
    data = printed_sheets(plan, paper)[0]
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
    assert "mm above the rail (2 plates)" in text
    assert "take out rear grille" in text
    assert "never charge them" in text
    assert f"sheet 1 of {len(document)}" in text


def test_sheets_are_the_same_twice(plan: Plan) -> None:
    """The file holds no clock and no chance."""
    assert printed_sheets(plan) == printed_sheets(sample_plan_anew())


@pytest.mark.parametrize("name", ["".join(HOSTILE), HOSTILE[0], HOSTILE[1]], ids=["all", "script", "formula"])
def test_hostile_names_are_printed_as_text(name: str) -> None:
    """Sheets of a train with hostile names are made, stay on the paper, and show the printable ones."""
    plan = broken_plan(name)
    document = pypdfium2.PdfDocument(printed_sheets(plan)[0])
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
    data = pypdfium2.PdfDocument(printed_sheets(plan)[0])
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
    assert titles[-1] == "Findings"
    document = pypdfium2.PdfDocument(printed_sheets(plan)[0])
    first = document[0].get_textpage().get_text_range()
    for need, _ in plan.unplaced:
        assert f"{need} has no place" in first.replace("\r\n", " ")
    assert "What was asked of each vehicle" in first


def labels_of(shapes: list[Shape] | tuple[Shape, ...]) -> list[Label]:
    found: list[Label] = []
    for shape in shapes:
        if isinstance(shape, Group):
            found += labels_of(shape.shapes)
        elif isinstance(shape, Label) and shape.text.strip():
            found.append(shape)
    return found


BODY_MM = 10 * POINT
"""Text that is read is at least as large as 10 pt."""


EXAMPLES = ["harbour-line", "clay-run", "market-tram", "narrow-crane-wagon"]


@pytest.mark.parametrize("example", EXAMPLES)
def test_sheets_of_the_examples_are_legible(planned: Planned, example: str) -> None:
    """Nothing off the paper, no text over text, sentences 10 pt and more, no ink of a wire on brick."""
    plan = planned(example)
    pages = sheet_pages(plan)
    assert off_paper(pages) == []
    is_legible(pages)
    looked = sum(wires_keep_out_of_solids(plan, entry) for entry in plan.built.train.vehicles)
    assert looked > 100


def test_no_text_lies_over_text_and_what_is_read_is_ten_points(plan: Plan) -> None:
    """Boxes of all texts on all sheets lie apart; sentences (more than 30 letters) are 10 pt and more."""
    is_legible(sheet_pages(plan, "Letter"))


def is_legible(pages: list[Drawing]) -> None:
    for page in pages:
        labels = labels_of(page.shapes)
        boxes = np.array([label_box(label) for label in labels])
        low, high = boxes[:, :2] + 0.05, boxes[:, 2:] - 0.05
        over = (low[:, None] < high[None]).all(axis=2) & (low[None] < high[:, None]).all(axis=2)
        pairs = [(labels[a].text, labels[b].text) for a, b in np.argwhere(np.triu(over, 1))]
        assert pairs == [], page.title
        small = [one.text for one in labels if len(one.text) > 30 and one.size < BODY_MM]
        assert small == [], page.title
        titles = [one for one in labels if one.bold and one.size == 4.0 and one.x == EDGE]
        lowest = max(y for _, y in extents(page.shapes) if y < page.height - BOTTOM)
        alone = [one.text for one in titles if one.y > lowest - 3.0]
        assert alone == [], f"{page.title}: a title at the foot of a sheet with nothing under it"


def test_no_wire_is_drawn_inside_a_solid_and_each_bears_its_number(plan: Plan) -> None:
    """No ink of a wire lies on brick or on what is built in, on any layer; each is named.

    Looked at on the exact solids of the vehicle, at points 0.3 mm apart over the whole width of the ink.
    """
    assert sum(wires_keep_out_of_solids(plan, entry) for entry in plan.built.train.vehicles) > 500


def wires_keep_out_of_solids(plan: Plan, entry: TrainVehicle) -> int:
    """Return how many points of ink of a vehicle's wires were looked at; each wire bears its number."""
    looked = 0
    bench = bench_of(plan, entry)
    taken = plan.built.taken_out(entry.name)
    for section in bench.sections:
        drawing = layer_drawing(plan, bench, section)
        said = " ".join(label.text for label in labels_of(drawing.shapes))
        for group in drawing.shapes:
            if not isinstance(group, Group) or not group.key.startswith("wire-"):
                continue
            assert re.search(rf"\b{group.key[5:]}\b", said)
            ink = np.array([point for shape in group.shapes for point in ink_of(shape)])
            across = np.full(len(ink), (section.low + section.high) / 2)
            at = np.column_stack([ink[:, 0] - SIDE, HEAD + entry.vehicle.width - ink[:, 1], across])
            assert not is_solid(entry.vehicle, at, taken).any(), (entry.name, section.name, group.key)
            looked += len(at)
    return looked


def ink_of(shape: Shape) -> list[tuple[float, float]]:
    """Points on a line or a dot, out to the border of its ink."""
    if isinstance(shape, Circle):
        reach = shape.r + shape.pen.width / 2
        turns = np.linspace(0, 2 * np.pi, 12)
        return [(shape.x + reach * math.cos(a), shape.y + reach * math.sin(a)) for a in turns]
    assert isinstance(shape, Path)
    (x0, y0), (x1, y1) = shape.points
    long = math.dist(*shape.points)
    across = ((y0 - y1) / long * shape.pen.width / 2, (x1 - x0) / long * shape.pen.width / 2)
    return [
        (x0 + (x1 - x0) * share + side * across[0], y0 + (y1 - y0) * share + side * across[1])
        for share in np.linspace(0, 1, math.ceil(long / 0.3) + 1)
        for side in (-0.98, 0, 0.98)
    ]


def is_solid(vehicle: Vehicle, at: NDArray[np.float64], taken: frozenset[str]) -> NDArray[np.bool_]:
    """Whether places (n, 3) are filled: the last solid drawn there counts, as in the vehicle file."""
    found = np.zeros(len(at), dtype=np.bool_)
    for body in vehicle.body:
        filled = body.state == "fixed" or (body.state == "removable" and body.removable not in taken)
        found[_holds(body.solid.bounds, at)] = filled
    for one in (solid for built_in in vehicle.built_in for solid in built_in.solids):
        found |= _holds(one.bounds, at)
    return found


def _holds(box: Box, at: NDArray[np.float64]) -> NDArray[np.bool_]:
    inside: NDArray[np.bool_] = ((np.array(box.low) + 1e-6 < at) & (at < np.array(box.high) - 1e-6)).all(
        axis=1
    )
    return inside


def test_sheets_say_where_each_wire_is_drawn(plan: Plan) -> None:
    """A wire stands on layer sheets of just those vehicles that it runs in; the from-to list tells which."""
    pages = sheet_pages(plan)
    drawn = sheets_of(sheet_references(pages))
    head = [label.text for page in pages if page.title == "From-to list" for label in labels_of(page.shapes)]
    assert "on sheets" in head or "sheets" in head
    for wire in plan.built.harness.wires:
        titles = {number: pages[number - 1].title for number in drawn[f"wire-{wire.number}"]}
        layers = {title.split(", layer by layer")[0] for title in titles.values() if ", layer" in title}
        assert layers == {leg.vehicle for leg in wire.legs if math.dist(leg.points[0], leg.points[-1]) > 0.1}
        listed = ", ".join(str(number) for number, title in titles.items() if ", layer" in title)
        assert listed in " ".join(head)
        assert any(title.startswith("Wiring") for title in titles.values())


def test_a_bundle_beside_a_wall_is_not_fanned_into_it() -> None:
    """Wires that share a way close to a wall stay out of it; elsewhere they are drawn side by side."""
    plan = sample_plan()
    entry = plan.built.train.vehicles[0]
    bench = bench_of(plan, entry)
    section = max(bench.sections, key=lambda one: len(layer_wires(plan, bench, one, (0.0, 999.0))))
    runs = layer_wires(plan, bench, section, (0.0, 999.0))
    assert len(runs) > 1
    # a wall that begins half a wire beside the real way of all: nothing may be drawn aside into it
    real = max(
        point[1]
        for wire in plan.built.harness.wires
        for leg in wire.legs
        if leg.vehicle == entry.name
        for point in leg.points
        if section.low <= point[2] <= section.high
    )
    edge = real + 0.45
    wall = Box((0.0, edge, section.low), (entry.vehicle.length, edge + 20, section.high))
    vehicle = replace(entry.vehicle, body=(*entry.vehicle.body, BodySolid(wall, "fixed")))
    other = TrainVehicle(entry.name, vehicle, entry.turned)
    beside = bench_of(plan, other)
    here = next(one for one in beside.sections if one.low <= section.low + 0.1 < one.high)
    for run in layer_wires(plan, beside, here, (0.0, 999.0)):
        for piece in run.pieces:
            assert max(point[1] for point in piece) + run.width / 2 <= edge + 1e-6


def test_blank_layers_are_told_in_one_line_and_cautions_stand_on_page_one(plan: Plan) -> None:
    """Layers without anything to do are not drawn, but named; page one bears every caution."""
    pages = sheet_pages(plan)
    text = " ".join(label.text for page in pages for label in labels_of(page.shapes))
    first = " ".join(label.text for label in labels_of(pages[0].shapes))
    for caution in cautions_of(plan):
        assert caution.split(":")[0][:40] in first
    drawn = [one.text for page in pages for one in labels_of(page.shapes) if one.bold]
    blank = 0
    for entry in plan.built.train.vehicles:
        bench = bench_of(plan, entry)
        for section in bench.sections:
            title = layer_title(section)
            if is_blank(plan, bench, section):
                blank += 1
                assert title.split(":")[0] in text
            else:
                assert title in drawn
    assert blank > 0
    for step in build_sequence(plan):
        assert sentence(step.words)[:20] in text
    for placement in plan.built.placements:
        assert orientation(placement)[:20] in text
