"""Where the figures of the catalogue come from: every part with figures says so."""

from __future__ import annotations

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.model.electrical import CellPack
from fitplan.model.part import Part

CATALOGUE = read_catalogue()
ORIGINS = ("from memory", "data sheet", "IEC ", "ASTM", "common practice")
"""What a figure may rest on."""


@pytest.mark.parametrize(
    "part", [one for one in CATALOGUE.values() if one.electrical], ids=lambda one: one.id
)
def test_every_figure_says_where_it_comes_from(part: Part) -> None:
    """A standard, a maker's data sheet, common practice, or memory."""
    assert any(origin in part.source for origin in ORIGINS), part.source


def test_what_cells_hold_agrees_with_a_published_bench_test() -> None:
    """Alkaline AA at 0.1 A gave 2.13 to 2.20 Ah in a published bench test."""
    packs = [pack for one in CATALOGUE.values() if (pack := one.figure(CellPack)) is not None]
    aa = {pack.capacity_mah for pack in packs if pack.chemistry == "alkaline" and pack.cell_size == "LR6"}
    assert aa
    assert all(2130 <= held <= 2200 for held in aa)


def test_cells_of_one_size_and_kind_are_alike() -> None:
    """A holder changes neither what a cell holds nor its resistance."""
    known: dict[tuple[str, str, bool], set[tuple[float, float, float]]] = {}
    for one in CATALOGUE.values():
        if (pack := one.figure(CellPack)) is not None:
            key = (pack.chemistry, pack.cell_size, pack.protected)
            known.setdefault(key, set()).add((pack.capacity_mah, pack.resistance_ohm, pack.max_ma))
    assert all(len(figures) == 1 for figures in known.values()), known
