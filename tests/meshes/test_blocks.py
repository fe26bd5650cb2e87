"""Voxels with states into layers and boxes, and vehicles into text."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.files.read import read_vehicle
from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FIXED, FREE, KEEP_CLEAR, OUTSIDE, REMOVABLE, StateBlock, body_of
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.vehicle_text import vehicle_yaml
from fitplan.model.solids import Cylinder

EXAMPLES = Path(__file__).parents[2] / "examples"
VEHICLES = sorted(
    path for path in EXAMPLES.glob("*/*.yaml") if path.read_text(encoding="utf-8").find("\nvehicle:") >= 0
)


def drawn(body, block):
    """The codes of a block by drawing a body's boxes one after the other."""
    codes = np.full(block.frame.shape, OUTSIDE)
    by_state = {"outside": OUTSIDE, "free": FREE, "keep-clear": KEEP_CLEAR, "fixed": FIXED}
    for entry in body.drawn:
        code = by_state.get(entry.state)
        if code is None:
            code = REMOVABLE + block.names.index(entry.removable)
        codes[block.frame.box_slice(entry.solid, "outward")] = code
    return codes


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    spots=st.integers(0, 12),
    noise=st.sampled_from((0.0, 0.0005, 0.05)),
)
def test_bodies_are_drawn_exactly(seed, spots, noise):
    """Layers with corrections, or boxes alone, draw the block again voxel by voxel, however rough it is."""
    random = np.random.default_rng(seed)
    frame = Frame((0.0, 0.0, 9.6), (40, 30, 16), 0.8)
    cells = random.integers(0, REMOVABLE + 2, (4, 3, 4))
    codes = np.repeat(np.repeat(np.repeat(cells, 10, 0), 10, 1), 4, 2).astype(np.uint8)
    for _ in range(spots):
        low = [random.integers(0, n - 3) for n in codes.shape]
        codes[tuple(slice(c, c + random.integers(1, 6)) for c in low)] = random.integers(0, REMOVABLE + 2)
    rough = random.random(codes.shape) < noise
    codes[rough] = random.integers(0, REMOVABLE + 2, int(rough.sum()))
    block = StateBlock(frame, codes, ("grille", "inner wall"))
    body = body_of(block)
    assert (drawn(body, block) == codes).all()
    if not spots and not noise:
        assert body.solids == ()


@pytest.mark.parametrize("path", VEHICLES, ids=lambda path: path.stem)
def test_vehicles_read_back_from_their_text(path, tmp_path):
    """Every example vehicle, written as text and read again, is the same vehicle."""
    vehicle = read_vehicle(path)
    again = tmp_path / "again.yaml"
    again.write_text(vehicle_yaml(vehicle, ["a note with: signs # and [brackets]"]), encoding="utf-8")
    assert read_vehicle(again) == vehicle


def test_awkward_names_are_quoted(tmp_path):
    """Names that look like numbers, words of truth or lists, or hold quotes, come back as they were."""
    from dataclasses import replace

    vehicle = read_vehicle(VEHICLES[0])
    for name in (
        "yes",
        "12",
        'a "quoted" name',
        "[list]",
        "a: b",
        "back\\slash",
        "# no comment",
        "ends in colon:",
    ):
        path = tmp_path / "name.yaml"
        path.write_text(vehicle_yaml(replace(vehicle, name=name)), encoding="utf-8")
        assert read_vehicle(path).name == name


def test_the_mesh_example_is_what_its_mesh_gives():
    """The boiler loco's vehicle file has the body, bricks and cavity that its mesh gives."""
    folder = EXAMPLES / "boiler-loco"
    vehicle = read_vehicle(folder / "boiler-loco.yaml")
    found = vehicle_from_mesh(folder / "boiler-loco.glb", MeshOptions(name="Boiler loco", base=16.0))
    assert vehicle.body == found.vehicle.body
    # The boiler, its bore and the hole in its front are round, and all the rest is a few boxes.
    round_ = [(e.state, e.solid.axis, e.solid.length) for e in vehicle.body if isinstance(e.solid, Cylinder)]
    assert round_ == [("fixed", "x", 132.0), ("free", "x", 128.0), ("free", "x", 4.0)]
    assert len(vehicle.body) <= 12
    assert [entry.name for entry in vehicle.removables] == ["ballast"]
    assert found.vehicle.hull == vehicle.hull
    # The boiler's bore is 36 mm: a round cavity, 128 mm long, that opens into the cab.
    bore = np.pi * 18**2 * 128
    assert found.cavities[0].volume_mm3 > 0.9 * bore
    assert {window.out for window in found.vehicle.windows} == {"+x", "-x"}
