"""Layer drawings become boxes that say the same."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.files.layers import DEFAULT_LEGEND, Meaning, body_of_layers
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Layer
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
