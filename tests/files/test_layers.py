"""Layer drawings become boxes that say the same."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.errors import InputError
from fitplan.files.document import Text
from fitplan.files.entries import Collector
from fitplan.files.layer_rows import LayerEntry, full_rows
from fitplan.files.layers import DEFAULT_LEGEND, Meaning, body_of_layers
from fitplan.files.read import read_vehicle
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Layer, Vehicle
from fitplan.units import PLATE, STUD

LEGEND: dict[str, Meaning] = {**DEFAULT_LEGEND, "g": ("removable", "grille"), "h": ("removable", "hood")}


def layers_of(drawings: list[tuple[int, list[str]]], base: float = 16.0) -> list[Layer]:
    layers = []
    for number, (plates, rows) in enumerate(drawings):
        layers.append(Layer(f"layer {number}", base, plates, tuple(rows)))
        base = round(base + plates * PLATE, 6)
    return layers


def meaning_at(body: tuple[BodySolid, ...], point: tuple[float, float, float]) -> list[Meaning]:
    return [
        (item.state, item.removable)
        for item in body
        if all(
            low < p < high
            for low, p, high in zip(item.solid.bounds.low, point, item.solid.bounds.high, strict=True)
        )
    ]


@st.composite
def drawings(draw: st.DrawFn) -> list[tuple[int, list[str]]]:
    long, wide = draw(st.integers(1, 7)), draw(st.integers(1, 4))
    row = st.text(alphabet="".join(LEGEND), min_size=long, max_size=long)
    rows = st.lists(row, min_size=wide, max_size=wide)
    return draw(st.lists(st.tuples(st.integers(1, 3), rows), min_size=1, max_size=4))


@settings(max_examples=100, deadline=None)
@given(drawn=drawings())
def test_each_stud_is_in_exactly_one_box_of_its_meaning(drawn: list[tuple[int, list[str]]]) -> None:
    """In the middle of every drawn stud lies one box, in the state that is drawn there."""
    layers = layers_of(drawn)
    body = body_of_layers(layers, LEGEND)
    wide = len(drawn[0][1])
    for layer in layers:
        for plate in range(layer.plates):
            z = layer.base + (plate + 0.5) * PLATE
            for j, row in enumerate(layer.rows):
                for i, character in enumerate(row):
                    point = ((i + 0.5) * STUD, (wide - 1 - j + 0.5) * STUD, z)
                    assert meaning_at(body, point) == [LEGEND[character]]


@settings(max_examples=100, deadline=None)
@given(drawn=drawings())
def test_boxes_fill_the_drawing_and_no_more(drawn: list[tuple[int, list[str]]]) -> None:
    """The boxes' volumes add up to that of the drawing, so that none overlap; they are not too many."""
    body = body_of_layers(layers_of(drawn), LEGEND)
    studs = len(drawn[0][1]) * len(drawn[0][1][0])
    volume = sum(plates for plates, _ in drawn) * PLATE * studs * STUD**2
    assert abs(sum(item.solid.bounds.volume for item in body) - volume) < 1e-6 * volume
    assert len(body) <= studs * len(drawn)


def test_hollow_box_is_few_boxes() -> None:
    """A floor, walls of two layers and a roof are merged: four walls, one cavity, floor and roof."""
    wall = ["######", "#....#", "#....#", "######"]
    full = ["######"] * 4
    body = body_of_layers(layers_of([(1, full), (3, wall), (6, wall), (1, full)]), LEGEND)
    assert len(body) == 7
    assert BodySolid(Box((8.0, 8.0, 19.2), (40.0, 24.0, 48.0)), "free") in body


def test_first_row_is_the_left_side_and_the_front_is_to_the_right() -> None:
    """The last character of the first row lies at the front left."""
    body = body_of_layers(layers_of([(1, ["..#", "..."])], base=0.0), LEGEND)
    assert BodySolid(Box((16.0, 8.0, 0.0), (24.0, 16.0, 3.2)), "fixed") in body


def test_same_drawing_same_boxes() -> None:
    """The order of the boxes depends on nothing but the drawing."""
    drawn = [(1, ["#.#", ".g."]), (2, ["#g#", ".g."])]
    assert body_of_layers(layers_of(drawn), LEGEND) == body_of_layers(
        layers_of(drawn), dict(reversed(LEGEND.items()))
    )


def test_layers_with_a_gap_stay_apart() -> None:
    """Layers of one drawing that do not touch give two boxes."""
    layers = [Layer("low", 0.0, 1, ("#",)), Layer("high", 6.4, 1, ("#",))]
    assert [item.solid.bounds.low[2] for item in body_of_layers(layers, LEGEND)] == [0.0, 6.4]


SHORT = """
  - {name: floor, rows: "############ x4"}
  - name: walls
    plates: 9
    mirrored: yes
    rows: |
      ############
      #..........g
  - name: shelf
    like: walls
    but: {3: "#......####g"}
"""
WHOLE = """
  - name: floor
    rows: |
      ############
      ############
      ############
      ############
  - name: walls
    plates: 9
    rows: |
      ############
      #..........g
      #..........g
      ############
  - name: shelf
    rows: |
      ############
      #..........g
      #......####g
      ############
"""
HEAD = """vehicle: Van
kind: wagon
footprint: {long: 12, wide: 4}
floor finish: smooth
mass: 100
base: 5 plates
legend: {g: {removable: grille}}
removable: [{name: grille, cost: 2}]
wheels: {kind: axles, at: [20, 76], radius: 8}
layers:"""


def read(folder: Path, layers: str) -> Vehicle:
    file = folder / "van.yaml"
    file.write_text(HEAD + layers, encoding="utf-8")
    return read_vehicle(file)


def test_short_drawings_mean_the_whole_ones(tmp_path: Path) -> None:
    """Repeated, mirrored and like the layer below but for a row: the same vehicle."""
    assert read(tmp_path, SHORT) == read(tmp_path, WHOLE)


def test_halves_of_studs_mean_the_same_as_whole_ones(tmp_path: Path) -> None:
    """A drawing with each character twice and each row twice is the same room; one half off is not."""
    halves = SHORT.replace("mirrored: yes", "halves: yes\n    mirrored: yes")
    for row in ("############\n", "#..........g\n"):
        twice = "".join(2 * character for character in row.strip())
        halves = halves.replace(f" {row}", f" {twice} x2\n", 1)
    halves = halves.replace('{3: "#......####g"}', '{5-6: "##............########gg"}')
    whole = read(tmp_path, SHORT)
    assert read(tmp_path, halves).body == whole.body
    off = read(tmp_path, halves.replace("##............########gg", "##...........#########gg"))
    assert Box((52.0, 8.0, 48.0), (88.0, 16.0, 51.2)) in [one.solid for one in off.body]


def test_said_once_for_both_sides_and_both_ends(tmp_path: Path) -> None:
    """Mirrored solids, couplings at both ends, and removable bricks by name and cost."""
    solids = """
solids:
  - {mirrored: yes, box: {from: [8, 0, 20], to: [88, 1.5, 40]}}
  - {mirrored: yes, wedge: {from: [8, 2, 20], size: [8, 4, 9], base: down, back: right}}
  - {mirrored: yes, cylinder: {axis: left, from: [20, 2, 30], length: 3, diameter: 4}}
"""
    long = """
solids:
  - {state: fixed, box: {from: [8, 0, 20], to: [88, 1.5, 40]}}
  - {state: fixed, box: {from: [8, 30.5, 20], to: [88, 32, 40]}}
  - {state: fixed, wedge: {from: [8, 2, 20], size: [8, 4, 9], base: down, back: right}}
  - {state: fixed, wedge: {from: [8, 26, 20], size: [8, 4, 9], base: down, back: left}}
  - {state: fixed, cylinder: {axis: left, from: [20, 2, 30], length: 3, diameter: 4}}
  - {state: fixed, cylinder: {axis: left, from: [20, 27, 30], length: 3, diameter: 4}}
"""
    ends = "couplings: [{end: both, pivot: 8, height: 10, length: 9}]"
    each = """couplings:
  - {end: front, pivot: 88, height: 10, length: 9}
  - {end: rear, pivot: 8, height: 10, length: 9}"""
    whole = read(tmp_path, WHOLE + long + each)
    file = tmp_path / "van.yaml"
    head = HEAD.replace("[{name: grille, cost: 2}]", "{grille: 2}")
    file.write_text(head + SHORT.replace("############ x4", "#") + solids + ends, encoding="utf-8")
    assert read_vehicle(file) == whole
    assert len(whole.couplings) == 2


@given(drawings())
@settings(max_examples=40)
def test_a_layer_mirrored_is_its_own_mirror_image(drawn: list[tuple[int, list[str]]]) -> None:
    """The rows to the middle, read back from the other side, are the same, the middle one counted once."""
    _, rows = drawn[0]
    texts = [Text(row) for row in rows]
    item = LayerEntry.model_construct(
        name=Text("layer"), rows=texts, mirrored=True, halves=False, like=None, but=[]
    )
    collector = Collector(Path("van.yaml"), [])
    for wide in (2 * len(rows), 2 * len(rows) - 1):
        whole = full_rows(item, {}, len(rows[0]), wide, collector)
        assert whole is not None
        assert len(whole) == wide
        assert whole == whole[::-1]
        assert whole[: len(rows)] == texts
    assert full_rows(item, {}, len(rows[0]), 2 * len(rows) + 1, collector) is None
    assert len(collector.mistakes) == 1


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "like: walls",
            "like: wall",
            "found the unknown layer 'wall'; expected a layer below it: floor or walls",
        ),
        ("{3: ", "{5: ", "found the row 5; expected rows from 1 to 4, the left side first"),
        (
            "{3: ",
            "{last: ",
            "found the row 'last'; expected a row's number, or the first and last: 3 or 3-5",
        ),
        ("    but:", "    rows: [a]\n    but:", "found both 'rows' and 'like'; expected a drawing in 'rows'"),
        ("mirrored: yes", "like: floor", "found both 'rows' and 'like'; expected a drawing in 'rows'"),
        ("    mirrored: yes\n", "", "found 2 rows in the layer 'walls'; expected 4 rows"),
        ("      #..........g\n", "", "found 1 row in the mirrored layer 'walls'; expected 2 rows"),
        ("x4", "x5", "found 5 rows in the layer 'floor'; expected 4 rows"),
        ("#......####g", "#......####", "found 11 characters in row 3 of the layer 'shelf'; expected 12"),
    ],
)
def test_mistakes_in_short_drawings_are_told_once(tmp_path: Path, old: str, new: str, told: str) -> None:
    """Each at its line; a layer that is like one with a mistake holds none of its own."""
    assert SHORT.count(old) == 1
    with pytest.raises(InputError) as wrong:
        read(tmp_path, SHORT.replace(old, new))
    assert told in str(wrong.value)
    assert len(str(wrong.value).split("\n")) == 1
