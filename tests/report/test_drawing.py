"""Drawings: one interface, two kinds of output; the wiring drawing without wires on one another."""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Sequence
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.model.found import Plot
from fitplan.model.plan import Plan
from fitplan.report.drawings.connector_drawing import connector_faces
from fitplan.report.drawings.drawing import (
    INKS,
    Circle,
    Drawing,
    Group,
    Label,
    Path,
    Pen,
    Point,
    Shape,
    svg_bytes,
    svg_inline,
)
from fitplan.report.drawings.layer_drawing import bench_of, layer_drawing
from fitplan.report.drawings.layer_marks import on_grid
from fitplan.report.drawings.pdf import RIGHT_TO_LEFT, fitted, pdf_bytes, text_width, wrapped
from fitplan.report.drawings.plots import plot_drawing, ticks
from fitplan.report.drawings.scene import body_edges
from fitplan.report.drawings.step_drawing import step_drawing
from fitplan.report.drawings.train_drawing import side_drawing, top_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.drawings.wiring_layout import wiring_layout
from fitplan.report.drawings.wiring_paths import count_crossings, ordered_layout, ways, with_few_crossings
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.wording import clean
from fitplan.units import STUD

from .sample import HOSTILE, sample_plan, sample_plan_anew

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


def drawings(plan: Plan) -> list[Drawing]:
    found = [side_drawing(plan), top_drawing(plan), wiring_drawing(plan)]
    for entry in plan.built.train.vehicles:
        bench = bench_of(plan, entry)
        found += [layer_drawing(plan, bench, section) for section in bench.sections]
    for step in plan.assembly:
        edges = body_edges(plan, plan.built.train.vehicle(step.vehicle))
        found.append(step_drawing(plan, step, edges, 80.0, 50.0))
    found += [plot_drawing(plot) for outcome in plan.outcomes for plot in outcome.plots]
    return found


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_svg_is_well_formed_whatever_the_names(name: str) -> None:
    """Every drawing of a train with hostile names is read by an XML parser and holds no script or link."""
    for drawing in drawings(sample_plan(name))[:12]:
        for text in (svg_bytes(drawing).decode("utf-8"), svg_inline(drawing)):
            root = ElementTree.fromstring(text)
            kinds = {element.tag.removeprefix(SVG) for element in root.iter()}
            assert kinds <= {"svg", "title", "rect", "circle", "polyline", "polygon", "text", "g"}
            assert not [
                key for element in root.iter() for key in element.attrib if key.startswith(("on", "href"))
            ]


def test_svg_shows_names_as_they_read() -> None:
    """Text in a drawing comes back from the parser letter by letter."""
    drawing = Drawing(100, 20)
    for name in HOSTILE:
        drawing.text(1, 1, name)
    texts = [element.text for element in ElementTree.fromstring(svg_bytes(drawing)).iter(f"{SVG}text")]
    assert texts == [clean(name) for name in HOSTILE]


def test_svg_is_one_to_one_and_the_same_twice(plan: Plan) -> None:
    """A user unit is a millimetre: width in mm and view box agree; bytes do not change."""
    for one, two in zip(drawings(plan), drawings(sample_plan_anew()), strict=True):
        data = svg_bytes(one)
        assert data == svg_bytes(two)
        root = ElementTree.fromstring(data)
        _, _, wide, high = (float(part) for part in root.attrib["viewBox"].split())
        assert root.attrib["width"] == f"{wide:g}mm"
        assert root.attrib["height"] == f"{high:g}mm"


def test_page_drawings_take_their_colours_from_the_page(plan: Plan) -> None:
    """Inside the page no colour with a meaning is fixed: classes let dark and light differ."""
    text = svg_inline(side_drawing(plan))
    for name in ("ink", "paper", "part", "brick"):
        assert INKS[name] not in text


numbers = st.floats(-40, 40).map(lambda value: round(value, 2))


@given(numbers, numbers, st.floats(0.5, 30), st.floats(0.5, 30), st.floats(0.5, 5), st.booleans())
def test_hatching_stays_inside_and_lines_up(
    x: float, y: float, w: float, h: float, gap: float, falling: bool
) -> None:
    """Every hatch line ends on the rectangle's border and lies on the common raster of its slant."""
    drawing = Drawing(100, 100)
    drawing.hatch(x, y, w, h, Pen(), gap, falling)
    sign = -1 if falling else 1
    for shape in drawing.shapes:
        assert isinstance(shape, Path)
        for px, py in shape.points:
            assert x - 1e-6 <= px <= x + w + 1e-6
            assert y - 1e-6 <= py <= y + h + 1e-6
            level = (px + sign * py) / gap
            assert level == pytest.approx(round(level), abs=1e-6)


def segments(shapes: list[Shape] | tuple[Shape, ...], key: str = "") -> list[tuple[str, tuple[float, ...]]]:
    """Straight pieces of the wires in a drawing, each once, with the wire's key."""
    found: list[tuple[str, tuple[float, ...]]] = []
    for shape in shapes:
        if isinstance(shape, Group):
            found += segments(shape.shapes, shape.key)
        elif (
            isinstance(shape, Path) and key.startswith("wire-") and shape.pen.stroke not in {"paper", "soft"}
        ):
            found += [(key, (*one, *two)) for one, two in itertools.pairwise(shape.points)]
    return found


@pytest.mark.parametrize("connector", [True, False])
def test_no_two_wires_lie_on_one_another(connector: bool) -> None:
    """In the wiring drawing pieces of different wires cross or meet in a splice, and never share a line."""
    plan = sample_plan(connector=connector)
    nets = {f"wire-{wire.number}": wire.net for wire in plan.built.harness.wires}
    pieces = segments(wiring_drawing(plan).shapes)
    assert {key for key, _ in pieces} == set(nets)
    for (one, a), (two, b) in itertools.combinations(pieces, 2):
        if one == two or nets[one] == nets[two]:
            continue
        for axis in (0, 1):
            same_line = a[axis] == a[axis + 2] == b[axis] == b[axis + 2]
            low = max(min(a[1 - axis], a[3 - axis]), min(b[1 - axis], b[3 - axis]))
            high = min(max(a[1 - axis], a[3 - axis]), max(b[1 - axis], b[3 - axis]))
            assert not (same_line and high - low > 0.01), (one, two)


def test_wiring_drawing_names_every_pin_splice_and_coupling(plan: Plan) -> None:
    """Each wired pin, each splice, each coupling and each wire's number with its colour is written."""
    text = svg_bytes(wiring_drawing(plan)).decode("utf-8")
    for wire in plan.built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind == "pin":
                assert f">{end.pin}</text>" in text
                assert f">{wire.number} {wire.colour}</text>" in text
    for thing in (*plan.built.harness.splices, *plan.built.harness.crossings):
        assert f">{thing.name}</text>" in text


def test_layer_drawing_is_one_to_one(plan: Plan) -> None:
    """The controller's outline in its layer has the part's size in mm and its place on the grid."""
    entry = plan.built.train.vehicles[0]
    bench = bench_of(plan, entry)
    section = next(section for section in bench.sections if section.low <= 31.5 < section.high)
    drawing = layer_drawing(plan, bench, section)
    text = svg_bytes(drawing).decode("utf-8")
    group = re.search(r'<g data-key="part-1">.*?</g>', text, re.DOTALL)
    assert group is not None
    boxes = [
        tuple(float(v) for v in found)
        for found in re.findall(
            r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"', group[0]
        )
    ]
    assert any(box[2:] == (45.0, 18.0) for box in boxes)
    board = next(box for box in boxes if box[2:] == (45.0, 18.0))
    ruler = re.findall(
        r'<text x="([\d.]+)" y="[\d.]+" font-size="2.5" text-anchor="middle"[^>]*>(\d+)</text>', text
    )
    where = {int(number): float(x) for x, number in ruler}
    assert (where[20] - where[0]) / 20 == pytest.approx(STUD)
    assert board[0] - where[0] == pytest.approx(110.0)


def test_bricks_to_take_out_are_named_in_their_layers(plan: Plan) -> None:
    """The layers with the grille that goes say so; the others do not."""
    entry = plan.built.train.vehicles[0]
    bench = bench_of(plan, entry)
    says = {}
    for section in bench.sections:
        says[section.low] = "take out rear grille" in svg_bytes(layer_drawing(plan, bench, section)).decode()
    assert [low for low, said in says.items() if said] == [35.2, 38.4, 41.6]


@given(st.floats(-1e4, 1e4), st.floats(0.1, 1e6))
def test_marks_of_an_axis_cover_it_evenly(low: float, span: float) -> None:
    """Marks are evenly spaced and reach from below the least to above the greatest value."""
    marks = ticks(low, low + span)
    assert marks[0] <= low + 1e-6 * span
    assert marks[-1] >= low + span - 1e-6 * max(span, abs(low))
    steps = {round((b - a) / (marks[1] - marks[0]), 4) for a, b in itertools.pairwise(marks)}
    assert steps == {1.0}
    assert 2 <= len(marks) <= 12


def test_plot_without_points_says_so() -> None:
    """An empty plot is no error."""
    assert "nothing to plot" in svg_inline(plot_drawing(Plot("t", "x", "y", ())))


def test_places_on_the_grid_are_studs_and_a_rest() -> None:
    """On the stud grid of 8 mm (common practice, no source) 109 mm is 13 studs and 5 mm."""
    assert on_grid(109.0) == "13 st + 5.0"
    assert on_grid(16.0) == "2 st"
    assert on_grid(0.5) == "0 st + 0.5"


@given(st.text(max_size=200), st.floats(8, 60))
def test_wrapped_text_keeps_to_its_width(text: str, width: float) -> None:
    """No line of a broken text is wider than asked, and a fitted text is never wider either."""
    for line in wrapped(text, 3.0, width):
        assert text_width(line, 3.0) <= width + 1e-6 or len(line) == 1
    assert text_width(fitted(text, 3.0, width), 3.0) <= width + 1e-6


def test_all_right_to_left_letters_are_looked_for() -> None:
    """Python's own tables of Unicode: a text in which none is found has none."""
    turned = [c for c in map(chr, range(0x20000)) if unicodedata.bidirectional(c) in {"R", "AL"}]
    assert len(turned) > 2000
    assert all(map(RIGHT_TO_LEFT.search, turned))


def test_pdf_holds_a_drawing_of_every_shape() -> None:
    """All shapes and a halo are written without an error, twice the same."""
    drawing = Drawing(100, 50, "all")
    drawing.rect(1, 1, 5, 5, Pen("ink", 0.2, "brick", (1, 1), 0.5), 1.0)
    drawing.circle(10, 10, 3)
    drawing.path([(0, 0), (5, 5), (5, 0)], closed=True)
    drawing.text(20, 20, "5 Ω ≤ 6 Ω → ü 🚂 שלום", halo=True, turn=90)
    assert pdf_bytes([drawing], "t") == pdf_bytes([drawing], "t")


def test_every_wire_is_named_at_both_ends_and_crossings_are_counted() -> None:
    """Its number stands at each end; crossings agree with a count piece by piece, and get no more."""
    plan = sample_plan()
    drawing = wiring_drawing(plan)
    texts = [label.text for label in every_label(drawing.shapes)]
    for wire in plan.built.harness.wires:
        said = sum(bool(re.search(rf"(^|[ ,]){wire.number}(,| )", text)) for text in texts)
        assert said >= 2, (wire.number, wire.start, wire.end)
    first = wiring_layout(plan)
    exchanged, better = with_few_crossings(plan, first), ordered_layout(plan)
    counts = [count_crossings(plan, layout) for layout in (better, exchanged, first)]
    assert counts == sorted(set(counts))
    for name, column in first.columns.items():
        assert sorted(box.owner for box in column.boxes) == sorted(
            box.owner for box in better.columns[name].boxes
        )
    for layout in (first, better):
        pieces = [
            (wire.net, one, two)
            for wire in plan.built.harness.wires
            for one, two in itertools.pairwise(ways(plan, layout)[wire.number])
        ]
        met = 0
        for (net, a, b), (other, c, d) in itertools.combinations(pieces, 2):
            across = (turn(a, b, c) * turn(a, b, d) < 0) and (turn(c, d, a) * turn(c, d, b) < 0)
            met += across and net != other
        assert count_crossings(plan, layout) == met
        # no two wires lie on one another
        for (net, a, b), (other, c, d) in itertools.combinations(pieces, 2):
            if net != other and a[0] == b[0] == c[0] == d[0]:
                low, high = max(min(a[1], b[1]), min(c[1], d[1])), min(max(a[1], b[1]), max(c[1], d[1]))
                assert high <= low + 1e-9


def turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def every_label(shapes: Sequence[Shape]) -> list[Label]:
    inside = [label for shape in shapes if isinstance(shape, Group) for label in every_label(shape.shapes)]
    return inside + [shape for shape in shapes if isinstance(shape, Label)]


def test_dots_in_mid_wire_are_splices_and_faces_mirror() -> None:
    """Every dot stands at the height of a splice; both faces of a connector show each cavity once."""
    plan = sample_plan()
    layout = ordered_layout(plan)
    heights = {
        layout.row_y((wire.number, side))
        for wire in plan.built.harness.wires
        for side, end in enumerate((wire.start, wire.end))
        if end.kind == "splice"
    }
    for shape in wiring_drawing(plan).shapes:
        for entry in shape.shapes if isinstance(shape, Group) else (shape,):
            if isinstance(entry, Circle) and entry.pen.fill == "ink":
                assert entry.y in heights
    faces = connector_faces(plan)
    assert len(faces) == len([c for c in plan.built.harness.crossings if cavities(plan, c.name, c.ahead)])
    for face in faces:
        numbers = [label.text for label in every_label(face.shapes) if label.text.isdecimal()]
        half = len(numbers) // 2
        assert numbers[:half] == numbers[half:][::-1]
        assert len(set(numbers[:half])) == half
