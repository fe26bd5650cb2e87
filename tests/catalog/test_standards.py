"""Sizes in the catalogue against published ones."""

from __future__ import annotations

import math

import pytest

from fitplan.files.catalogue import catalogue_folder, read_catalogue
from fitplan.model.electrical import CellPack, Conductor
from fitplan.model.part import Part
from fitplan.model.solids import Cylinder

CATALOGUE = read_catalogue([catalogue_folder()])

LARGEST = {
    # Largest diameter and length in mm.
    # IEC 60086-2 as read in Linden's Handbook of Batteries, 4th ed., Table 4.9a.
    "LR6": (14.5, 50.5),
    "LR03": (10.5, 44.5),
    # A maker's data sheet of 2005: 10.5 +0/-0.7 × 44.5 +0/-1.0.
    "HR03": (10.5, 44.5),
    # IEC 61951-2, from memory, not confirmed.
    "HR6": (14.5, 50.5),
    # 18650-size: at most 18.4 × 65.0 in a maker's data sheet. IEC 61960, clause 5.1, names it 19/66.
    "19/66": (18.4, 65.0),
    # The same with a protection board on its end: 67 to 70 mm long, 18.4 to 18.8 mm thick, from memory.
    "19/70": (18.8, 70.0),
}
NOMINAL = {"alkaline": 1.5, "nimh": 1.2, "li-ion": 3.7}
"""Volts of one cell: IEC 60086-2 (alkaline), makers' data sheets (the others)."""


def round_cells() -> list[Part]:
    return [
        part
        for part in CATALOGUE.values()
        if (pack := part.figure(CellPack)) is not None and pack.cell_size in LARGEST
    ]


@pytest.mark.parametrize("part", round_cells(), ids=lambda part: part.id)
def test_round_cells_are_drawn_at_the_largest_size_of_the_standard(part: Part) -> None:
    """Every holder draws as many cells as it connects, each as large as the standard lets it be."""
    pack = part.figure(CellPack)
    assert pack is not None
    diameter, length = LARGEST[pack.cell_size]
    cells = [solid for solid in part.envelope if isinstance(solid, Cylinder)]
    assert {2 * cell.radius for cell in cells} == {diameter}
    # Cells end to end are one cylinder, with a millimetre for the contact between them.
    drawn = sum(max(1, math.floor(cell.length / length)) for cell in cells)
    assert drawn == pack.cells
    for cell in cells:
        in_line = round(cell.length / length)
        assert in_line * length <= cell.length < in_line * length + 1.5


def test_cells_of_every_holder_keep_apart() -> None:
    """No two cells of a holder overlap: their middle lines are at least a diameter apart."""
    checked = 0
    for part in round_cells():
        cells = [solid for solid in part.envelope if isinstance(solid, Cylinder)]
        for i, one in enumerate(cells):
            for other in cells[:i]:
                apart = math.dist(one.start[1:], other.start[1:])
                assert apart >= one.radius + other.radius, part.id
                checked += 1
    assert checked > 20


def test_9_v_block_has_the_largest_size_of_the_standard() -> None:
    """IEC 60086-2, 6LR61, as a maker's sheet quotes it: 26.5 × 17.5 × 48.5 mm over its snaps; six cells."""
    part = CATALOGUE["cells-9v-block"]
    assert sorted(part.envelope[0].bounds.size) == pytest.approx([17.5, 26.5, 48.5])
    pack = part.figure(CellPack)
    assert pack is not None
    assert pack.elements * NOMINAL["alkaline"] == pytest.approx(9.0)


def test_18650_size_is_a_19_66() -> None:
    """IEC 61960, clause 5.1: the designation is the largest diameter and height, rounded up."""
    cell = next(s for s in CATALOGUE["cells-18650-1"].envelope if isinstance(s, Cylinder))
    assert (math.ceil(2 * cell.radius), math.ceil(cell.length)) in {(19, 65), (19, 66)}


@pytest.mark.parametrize(
    "part", [part for part in CATALOGUE.values() if part.family == "pouch"], ids=lambda part: part.id
)
def test_pouch_cells_are_as_large_as_their_name_says(part: Part) -> None:
    """Six figures: tenths of a mm (from 10 mm up: mm), width, length. Common practice, no source."""
    code = part.id.removeprefix("pouch-")
    thickness, width, length = float(code[:2]), int(code[2:4]), int(code[4:])
    if thickness >= 20:
        thickness /= 10
    body = part.envelope[0].bounds.size
    assert body[0] == length
    assert body[1] == width
    assert thickness <= body[2] <= 1.1 * thickness  # with room to swell, and no thinner than it says
    pack = part.figure(CellPack)
    assert pack is not None
    assert pack.protected
    # Energy density of flat cells: 250 to 620 Wh/l, common practice, no source.
    litres = thickness * width * length / 1e6
    assert 250 < pack.capacity_mah / 1000 * NOMINAL["li-ion"] / litres < 620


AWG_COPPER = {22: 0.6438, 24: 0.5106, 26: 0.4049, 28: 0.3211, 30: 0.2546, 32: 0.2019}
"""Solid diameter in mm after ASTM B258: 0.127 · 92^((36 − n) / 39)."""


@pytest.mark.parametrize("awg", AWG_COPPER)
def test_wires_carry_the_copper_of_their_gauge(awg: int) -> None:
    """Round the copper of ASTM B258 is 0.1 to 0.6 mm of insulation, of at most twice its mass."""
    diameter = 0.127 * 92 ** ((36 - awg) / 39)
    assert diameter == pytest.approx(AWG_COPPER[awg], abs=5e-5)
    part = CATALOGUE[f"wire-awg{awg}"]
    wire = part.figure(Conductor)
    assert wire is not None
    assert (wire.awg, wire.conductors) == (awg, 1)
    stranded = 1.12 * diameter  # seven strands take that much more room: 3 / sqrt(7) = 1.134
    assert 0.1 <= (wire.outer_mm - stranded) / 2 <= 0.6
    copper = math.pi / 4 * diameter**2 * 8.96  # grams a metre
    assert copper < part.mass_g < 3 * copper


def test_thicker_wires_have_thicker_insulation_over_all() -> None:
    """Outer diameter falls with the gauge number."""
    outer = [
        wire.outer_mm
        for awg in sorted(AWG_COPPER)
        if (wire := CATALOGUE[f"wire-awg{awg}"].figure(Conductor)) is not None
    ]
    assert outer == sorted(outer, reverse=True)
    assert len(set(outer)) == len(AWG_COPPER)


def test_ribbons_have_conductors_that_touch_at_most() -> None:
    """A ribbon's conductors are no thicker than its pitch."""
    ribbons = [
        wire
        for part in CATALOGUE.values()
        if (wire := part.figure(Conductor)) is not None and wire.conductors > 1
    ]
    assert len(ribbons) >= 3
    for ribbon in ribbons:
        assert ribbon.outer_mm <= ribbon.pitch_mm
