"""Files of strangers: read, or refused with one clear text; never a traceback, a hang, or boundless memory.

``python -m tests.attack.readers`` tries many more and prints what came of them.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import shutil
import unicodedata
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.errors import InputError, PlanFormatError
from fitplan.files.catalogue import catalogue_folder, examples_folder
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_train
from fitplan.files.sidecar import BadSidecar, read_sidecar, sidecar_bytes
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid
from fitplan.recheck import recheck
from tests.attack.readers import CORPUS, READERS, REFUSALS, SLOW_S, tried
from tests.attack.strangers import Json, changed_bytes, changed_json, changed_lines
from tests.conftest import Planned

CRANE = examples_folder() / "narrow-crane-wagon"
SEEDS = st.integers(0, 10**9)


def copied(folder: Path) -> Path:
    shutil.rmtree(folder, ignore_errors=True)
    return Path(shutil.copytree(CRANE, folder))


def told(folder: Path) -> str:
    """Return what is told of a train; empty when it can be read."""
    try:
        read_train(folder / "train.yaml")
    except InputError as error:
        return str(error)
    return ""


@given(SEEDS)
@settings(max_examples=120, deadline=None)
def test_changed_texts_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    """Lines dropped, doubled, moved, or with other values, in train, vehicle and part files."""
    chance = random.Random(seed)
    folder = copied(tmp_path_factory.getbasetemp() / "texts")
    sources = [*CRANE.glob("*.yaml"), *catalogue_folder().glob("*.yaml")]
    source = chance.choice(sorted(sources))
    goal = folder / source.name if source.parent == CRANE else folder / "parts" / source.name
    goal.parent.mkdir(exist_ok=True)
    if chance.random() < 0.8:
        goal.write_bytes(changed_lines(source.read_text("utf-8"), chance).encode("utf-8", "surrogatepass"))
    else:
        goal.write_bytes(changed_bytes(source.read_bytes(), chance))
    told(folder)


@pytest.fixture(scope="module")
def document(planned: Planned) -> Json:
    """A written plan, as JSON."""
    return json.loads(plan_to_json(planned("narrow-crane-wagon")))


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_changed_plans_are_checked_or_refused(document: Json, seed: int) -> None:
    """Leaves, items and keys of a plan changed to extremes: verify comes to an end and says what it found."""
    text = json.dumps(changed_json(document, random.Random(seed)))
    try:
        plan = plan_from_json(text)
    except PlanFormatError:
        return
    assert recheck(plan).summary


@given(SEEDS)
@settings(max_examples=200, deadline=None)
def test_changed_sidecars_are_read_or_refused(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    """Bytes flipped, dropped and doubled in an archive, packed or not."""
    chance = random.Random(seed)
    bricks = [f"b{i}" if i % 3 else "" for i in range(40)]
    data = sidecar_bytes(
        [
            BodySolid(Box((i, 0, 0), (i + 1, 5, 5)), "removable" if brick else "fixed", brick)
            for i, brick in enumerate(bricks)
        ]
    )
    if seed % 2:
        stream = io.BytesIO()
        with np.load(io.BytesIO(data)) as archive:
            np.savez(stream, **{key: archive[key] for key in archive.files})
        data = stream.getvalue()
    path = tmp_path_factory.getbasetemp() / "changed.npz"
    path.write_bytes(changed_bytes(data, chance))
    with contextlib.suppress(BadSidecar):
        read_sidecar(path)


def _array(**changes: object) -> dict[str, object]:
    good = {
        "boxes": np.array([[0, 0, 0, 10, 10, 10]], np.int32),
        "states": np.zeros(1, np.uint8),
        "bricks": np.zeros(1, np.uint16),
        "names": np.array(["a"]),
    }
    return good | changes


@pytest.mark.parametrize(
    "arrays",
    [
        _array(states=np.array([-1], np.int8)),
        _array(states=np.array(["x"])),
        _array(states=np.uint8(1)),
        _array(boxes=np.array([[0, 0, 0, np.nan, 10, 10]])),
        _array(boxes=np.array([[0, 0, 0, 1j, 10, 10]])),
        _array(boxes=np.array([[0, 0, 0, 1, 10, 10]], dtype="M8[s]")),
        _array(boxes=np.array([[-(2**31), 0, 0, 2**31 - 1, 10, 10]], np.int64)),
        _array(boxes=np.zeros((4_000_000, 6), np.int32)),
        _array(names=np.array([1, 2])),
        _array(states=np.array([1], np.uint8), bricks=np.array([-1], np.int16)),
    ],
)
def test_sidecars_of_another_kind(tmp_path: Path, arrays: dict[str, object]) -> None:
    """Other kinds of numbers, extremes, and an archive that unfolds to a hundred megabytes."""
    np.savez_compressed(tmp_path / "x.npz", **arrays)  # type: ignore[arg-type]
    with pytest.raises(BadSidecar):
        read_sidecar(tmp_path / "x.npz")


def _write(name: str, text: str) -> Callable[[Path], object]:
    def change(folder: Path) -> None:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, "utf-8")

    return change


def _vehicle(name: str) -> Callable[[Path], object]:
    def change(folder: Path) -> None:
        text = (folder / "train.yaml").read_text("utf-8")
        (folder / "train.yaml").write_text(text.replace("crane-wagon.yaml", name, 1), "utf-8")

    return change


def _link(folder: Path) -> None:
    (folder / "parts").mkdir()
    (folder / "parts" / "own.yaml").symlink_to("/nothing/of/this/name.yaml")


ALIASES = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "\n".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join(['*' + chr(97 + i)] * 9)}]" for i in range(9)
)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_write("train.yaml", ALIASES), "more than 200000 values"),
        (_write("train.yaml", "train: " + "[" * 100_000), "more than 40 levels of nesting"),
        (_write("train.yaml", "{a: " * 50_000), "more than 40 levels of nesting"),
        (_write("train.yaml", "x" * 2_000_000), "a file of 2000000 bytes"),
        (_vehicle("/dev/zero"), "no such file"),
        (_vehicle('"a\\0b"'), "no such file"),
        (_vehicle("x" * 5000), "File name too long"),
        (_vehicle("."), "a folder"),
    ],
)
def test_bombs_and_tricks_are_refused(tmp_path: Path, change: Callable[[Path], object], words: str) -> None:
    """References that multiply, deep nesting, large files, paths that lead to devices or nowhere."""
    folder = copied(tmp_path / "train")
    change(folder)
    assert words in told(folder)
    assert len(told(folder)) < 1000


@pytest.mark.skipif(os.name != "posix", reason="links and other systems' names")
def test_files_of_other_systems(tmp_path: Path) -> None:
    """Notes beside files are passed over, a link to nothing is told, an umlaut is one name in both forms."""
    folder = copied(tmp_path / "notes")
    (folder / "parts").mkdir()
    (folder / "parts" / "._own.yaml").write_bytes(b"\0\5\x16\7\0\2\0\0notes of another system")
    (folder / "parts" / ".DS_Store").write_bytes(b"\0\5\x16\7")
    assert told(folder) == ""
    folder = copied(tmp_path / "link")
    _link(folder)
    assert "own.yaml: found a link that leads nowhere" in told(folder)
    folder = copied(tmp_path / "umlaut")
    (folder / "crane-wagon.yaml").rename(folder / unicodedata.normalize("NFD", "Krän.yaml"))
    _vehicle(unicodedata.normalize("NFC", "Krän.yaml"))(folder)
    assert told(folder) == ""


@pytest.mark.parametrize("name", READERS)
def test_inputs_that_reach_most_are_read_or_refused(name: str) -> None:
    """Kept inputs that were found line by line, and some changed ones: nothing but a refusal is raised."""
    reader = READERS[name]
    for path in sorted((CORPUS / name.replace(" ", "-")).glob("*")):
        with contextlib.suppress(*REFUSALS):
            reader.read(path.read_bytes())
    for came, seconds, data in tried(reader, max(1, min(30, int(reader.share)))):
        assert came in ("read", "refused"), (came, data)
        assert seconds < SLOW_S, data
