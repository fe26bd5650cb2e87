"""Bodies cut into cells and layers: exact against a plain reading of what was drawn last."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.solids import Box, Cylinder, Solid, Wedge
from fitplan.model.vehicle import STATES, BodySolid, Vehicle, Wheels
from fitplan.report.drawings.slices import cells_of, sections_of

from .sample import sample_plan


def vehicle_of(body: list[BodySolid], top: float = 32.0) -> Vehicle:
    return Vehicle(
        "v",
        "wagon",
        6,
        4,
        0.0,
        top,
        "smooth",
        tuple(body),
        (),
        (),
        (),
        (),
        (),
        (),
        Wheels("axles", (), (), 5.0),
        (),
        1.0,
        (0.0, 0.0, 0.0),
    )


edges = st.tuples(st.integers(0, 40), st.integers(1, 24)).map(lambda pair: (pair[0], pair[0] + pair[1]))


@st.composite
def drawn_boxes(draw: st.DrawFn) -> list[BodySolid]:
    found = []
    for _ in range(draw(st.integers(1, 6))):
        spans = [draw(edges) for _ in range(3)]
        low, high = zip(*spans, strict=True)
        state = draw(st.sampled_from([state for state in STATES if state != "removable"]))
        found.append(BodySolid(Box(tuple(map(float, low)), tuple(map(float, high))), state))  # type: ignore[arg-type]
    return found


@settings(max_examples=40)
@given(drawn_boxes(), st.lists(st.tuples(*[st.floats(0.05, 23.95)] * 3), min_size=5, max_size=5))
def test_a_cell_has_the_state_that_was_drawn_last(
    body: list[BodySolid], points: list[tuple[float, float, float]]
) -> None:
    """At any point the cells say what the last box that covers it says; outside where there is none."""
    cells = cells_of(vehicle_of(body))
    for point in points:
        if any(abs(v - round(v)) < 1e-3 for v in point):
            continue
        wanted = "outside"
        for entry in body:
            assert isinstance(entry.solid, Box)
            if all(a < v < b for a, v, b in zip(entry.solid.low, point, entry.solid.high, strict=True)):
                wanted = entry.state
        index = tuple(int(np.searchsorted(cells.cuts[axis], point[axis])) - 1 for axis in range(3))
        assert STATES[cells.state[index]] == wanted


@pytest.mark.parametrize(
    ("solid", "volume"),
    [
        (Cylinder("x", (4.0, 16.0, 16.0), 30.0, 9.0), np.pi * 81 * 30),
        (Cylinder("z", (20.0, 16.0, 2.0), 12.0, 7.0), np.pi * 49 * 12),
        (Wedge(Box((8.0, 8.0, 0.0), (40.0, 24.0, 16.0)), "-z", "-x"), 32 * 16 * 16 / 2),
        (Wedge(Box((8.0, 8.0, 0.0), (40.0, 24.0, 16.0)), "+z", "+y"), 32 * 16 * 16 / 2),
    ],
)
def test_round_and_slanting_solids_keep_their_volume(solid: Solid, volume: float) -> None:
    """Cells sampled at 0.8 mm hold the volume within six per cent (formulas of solid geometry)."""
    cells = cells_of(vehicle_of([BodySolid(solid, "fixed")]))
    sizes = [np.diff(cut) for cut in cells.cuts]
    held = (cells.solid * sizes[0][:, None, None] * sizes[1][None, :, None] * sizes[2][None, None, :]).sum()
    assert held == pytest.approx(volume, rel=0.06)


def test_wedge_is_full_at_its_two_faces() -> None:
    """A wedge with base down and back to the rear fills its lower rear corner and leaves the upper front."""
    cells = cells_of(vehicle_of([BodySolid(Wedge(Box((0, 0, 0), (32, 16, 16)), "-z", "-x"), "fixed")]))
    solid = cells.solid
    assert solid[0, 0, 0]
    i, k = np.searchsorted(cells.cuts[0], 31.5) - 1, np.searchsorted(cells.cuts[2], 15.5) - 1
    assert not solid[i, 0, k]


def test_layers_reach_from_the_bottom_to_the_top() -> None:
    """Layers follow one another without a gap, and neighbours of the same name differ."""
    for entry in sample_plan().built.train.vehicles:
        sections = sections_of(entry.vehicle)
        assert sections[0].low == entry.vehicle.base
        assert sections[-1].high == pytest.approx(entry.vehicle.top)
        for one, two in itertools.pairwise(sections):
            assert one.high == pytest.approx(two.low)
            assert (
                one.name != two.name
                or not np.array_equal(one.state, two.state)
                or (not np.array_equal(one.removable, two.removable))
            )
