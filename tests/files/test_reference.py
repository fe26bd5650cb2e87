"""The reference beside the catalogue and the examples says what the readers read."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitplan.files.electrical_figures import FIGURES
from fitplan.files.families import FAMILIES
from fitplan.files.reference import parts_reference, references, trains_reference

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("path", references(ROOT), ids=lambda path: path.parent.name)
def test_reference_is_up_to_date(path: Path) -> None:
    """The file in the checkout is what the models give: else run python -m fitplan.files.reference."""
    assert path.read_text(encoding="utf-8") == references(ROOT)[path]


def test_every_link_leads_somewhere() -> None:
    """Each link in a reference leads to a heading of the same file."""
    for text in (parts_reference(), trains_reference()):
        headings = {
            line.lstrip("# ").lower().replace(" ", "-") for line in text.split("\n") if line.startswith("#")
        }
        anchors = {piece.split(")")[0] for piece in text.split("](#")[1:]}
        assert anchors
        assert anchors <= headings


def test_every_family_and_every_kind_of_figures_is_described() -> None:
    """All families and all kinds of electrical figures stand in the reference of part files."""
    text = parts_reference()
    for name in (*FAMILIES, *FIGURES):
        assert f"`{name}`" in text
