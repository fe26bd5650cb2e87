"""Mesh files of strangers: read, or refused with one text; never a traceback, a hang, or boundless memory.

``python -m tests.attack.readers`` tries many more damaged ones and prints what came of them.
"""

from __future__ import annotations

import os
import random
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from fitplan.errors import FitplanError
from fitplan.meshes.from_mesh import vehicle_from_mesh
from fitplan.meshes.scene_in import read_scene
from tests.attack.damaged_meshes import damaged, sound_files
from tests.attack.mesh_bombs import BOMBS, DATA, gltf

MOST_MB = 400


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices as files")
@pytest.mark.parametrize("what", BOMBS)
def test_bombs_are_refused(what: str, tmp_path: Path) -> None:
    """One text, in bounded memory."""
    write, words = BOMBS[what]
    path = write(tmp_path)
    tracemalloc.start()
    try:
        with pytest.raises(FitplanError, match=words) as told:
            vehicle_from_mesh(path)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert most < MOST_MB * 1e6
    assert len(str(told.value)) < 600


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """A small wagon in every format."""
    return sound_files(tmp_path_factory.mktemp("sound"))


@given(st.integers(0, 10**9))
@settings(max_examples=150, deadline=None)
def test_damaged_meshes_are_read_or_refused(
    files: dict[str, bytes], tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    """Bytes flipped, dropped and doubled, and headers changed, in each format."""
    chance = random.Random(seed)
    ending = chance.choice(sorted(files))
    path = tmp_path_factory.getbasetemp() / f"damaged{ending}"
    path.write_bytes(damaged(files[ending], ending, chance))
    try:
        assert read_scene(path).face_count > 0
    except FitplanError as told:
        event("refused" if len(str(told)) < 600 else "refused at length")


def test_the_tetrahedron_that_bombs_are_made_of_is_read(tmp_path: Path) -> None:
    """So that they are refused for what was changed in them."""
    import json

    path = tmp_path / "sound.gltf"
    path.write_text(json.dumps(gltf()), encoding="utf-8")
    (piece,) = read_scene(path).pieces
    assert (piece.name, len(piece.points), len(piece.faces), len(DATA)) == ("one", 4, 4, 72)
