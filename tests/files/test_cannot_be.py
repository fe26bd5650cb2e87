"""What is drawn or written and cannot be so is refused: pins into a body, lenses, figures twice, pivots."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from fitplan.errors import FitplanError
from fitplan.files.read import read_train

DATA = Path(__file__).parent / "data" / "line"
WRONG = [
    ("at: [1, 0, 8], exit: up", "at: [1, 0, 8], exit: down", "leaves into the part's own body"),
    (
        "      - emitter:",
        "      - load: {min: 3, max: 5, current: 1, peak: 1}\n      - emitter:",
        "second block",
    ),
    (
        "mount: {sits: down, needs support: no}",
        "mount: {looks: up, lens: {from: [-1, -1, 0], to: [1, 1, 0]}, needs support: no}",
        "a lens at the other side of a part that looks to the up",
    ),
]


def said(folder: Path) -> str:
    with pytest.raises(FitplanError) as caught:
        read_train(folder / "train.yaml")
    return str(caught.value)


@pytest.mark.parametrize(("old", "new", "words"), WRONG)
def test_parts_that_cannot_be(tmp_path: Path, old: str, new: str, words: str) -> None:
    """The part of the tests with one line changed is refused, and the line is named."""
    shutil.copytree(DATA, tmp_path / "line")
    file = tmp_path / "line" / "parts" / "own.yaml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    assert words in said(tmp_path / "line")


def test_swapped_pivots(tmp_path: Path) -> None:
    """A front pivot behind the rear one is refused."""
    shutil.copytree(DATA, tmp_path / "line")
    file = tmp_path / "line" / "loco.yaml"
    head, _, rest = file.read_text(encoding="utf-8").partition("couplings:\n")
    rest = "\n".join(line for line in rest.split("\n") if "- {end:" not in line)
    swapped = "".join(
        f"  - {{end: {end}, pivot: {pivot}, height: 10, length: 4}}\n"
        for end, pivot in (("front", 8), ("rear", 80))
    )
    file.write_text(f"{head}couplings:\n{swapped}{rest}", encoding="utf-8")
    assert "front coupling's pivot" in said(tmp_path / "line")


@pytest.mark.parametrize(("exit", "refused"), [("front", True), ("down", True), ("up", False)])
def test_a_lead_of_what_is_built_in_leaves_it(tmp_path: Path, exit: str, refused: bool) -> None:
    """A motor's lead in the middle of its top face leaves upwards; 1 mm below, frontwards, it does not."""
    shutil.copytree(DATA, tmp_path / "line")
    file = tmp_path / "line" / "loco.yaml"
    head, _, _ = file.read_text(encoding="utf-8").partition("built in:")
    depth = 0 if exit == "up" else 1
    file.write_text(
        f"{head}built in:\n"
        "  - name: motor\n    kind: motor\n    mass: 30\n"
        "    solids: [{box: {from: [20, 20, 20], to: [40, 30, 30]}}]\n"
        f"    pins: [{{name: lead, role: supply, at: [30, 25, {30 - depth}], exit: {exit}}}]\n",
        encoding="utf-8",
    )
    if refused:
        assert "which leaves into it" in said(tmp_path / "line")
    else:
        assert "leaves into" not in said(tmp_path / "line")
