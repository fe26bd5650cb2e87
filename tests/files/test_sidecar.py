"""Sidecars keep every kind of solid."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from fitplan.files.sidecar import BadSidecar, read_sidecar, sidecar_bytes
from fitplan.model.solids import DIRECTIONS, Box, Cylinder, Solid, Wedge, axis_of
from fitplan.model.vehicle import BodySolid

SOLIDS: tuple[Solid, ...] = (
    Box((0, 0, 0), (8, 8, 3.2)),
    *(Cylinder(axis, (4.5, 4.25, 3.2), 11.7, 3.05) for axis in ("x", "y", "z")),
    *(
        Wedge(Box((0, 1, 2), (8, 8, 9.6)), base, back)
        for base, back in itertools.product(DIRECTIONS, repeat=2)
        if axis_of(base) != axis_of(back)
    ),
)


def test_every_solid_comes_back(tmp_path: Path) -> None:
    """Boxes, cylinders along each axis and wedges of every turning are the same after the way back."""
    bodies = tuple(
        BodySolid(solid, state, "roof" if state == "removable" else "")
        for solid in SOLIDS
        for state in ("fixed", "free", "removable")
    )
    path = tmp_path / "body.npz"
    path.write_bytes(sidecar_bytes(bodies))
    assert read_sidecar(path) == bodies
    assert sidecar_bytes(bodies) == sidecar_bytes(bodies)


def test_unknown_kinds_are_refused(tmp_path: Path) -> None:
    """A kind of solid that nobody knows is a mistake of the file, not a guess."""
    import io

    import numpy as np

    with np.load(io.BytesIO(sidecar_bytes([BodySolid(SOLIDS[0], "fixed", "")]))) as archive:
        lists = {name: archive[name] for name in archive.files}
    lists["kinds"] = np.array([200], dtype=np.uint8)
    np.savez(tmp_path / "body.npz", **lists)
    with pytest.raises(BadSidecar, match="unknown kind"):
        read_sidecar(tmp_path / "body.npz")
