"""Facts of the trade, each marked: common practice, no source."""

from __future__ import annotations

import pytest

from fitplan.files.catalogue import catalogue_folder, read_catalogue
from fitplan.model.electrical import CellPack, Controller, Load
from fitplan.units import PLATE, STUD

CATALOGUE = read_catalogue([catalogue_folder()])
STUD_HIGH = 1.7
"""mm, common practice."""
ALKALINE_NOMINAL_V = 1.5
"""IEC 60086-2."""


def test_compact_controller_covers_about_2_by_6_studs() -> None:
    """Common practice, no source."""
    length, width, _ = CATALOGUE["controller-compact-5v"].bounds.size
    assert (round(width / STUD), round(length / STUD)) == (2, 6)


def test_stamp_is_about_half_of_a_compact_board_and_much_of_it_is_the_plug() -> None:
    """Common practice, no source."""
    stamp, compact = CATALOGUE["controller-stamp-5v"], CATALOGUE["controller-compact-5v"]
    area = [part.bounds.size[0] * part.bounds.size[1] for part in (stamp, compact)]
    assert 0.4 < area[0] / area[1] < 0.6
    plug = stamp.envelope[1].bounds.size[0]
    assert plug / stamp.bounds.size[0] > 0.25


def test_large_board_has_54_pins() -> None:
    """Common practice, no source."""
    names = {pin.name for pin in CATALOGUE["controller-large-54"].pins}
    assert {f"D{i}" for i in range(54)} <= names


@pytest.mark.parametrize("name", ["ranger-two-eyed", "ranger-two-eyed-bare", "ranger-one-eyed"])
def test_ranger_needs_four_wires(name: str) -> None:
    """Power, ground, one signal that is given and one that is read. Common practice, no source."""
    pins = CATALOGUE[name].pins
    assert sorted(pin.role for pin in pins) == ["ground", "signal", "signal", "supply"]
    assert sorted("".join(sorted(pin.wants)) for pin in pins if pin.role == "signal") == ["input", "output"]
    assert not any(pin.optional for pin in pins)


@pytest.mark.parametrize("name", ["cells-aa-4", "cells-aa-4-stack", "cells-aaa-4", "cells-aaa-4-stack"])
def test_four_alkaline_cells_give_the_headroom_that_a_5_v_board_wants(name: str) -> None:
    """Four give 6 V for 5 V and 1 V more; three give too little. Common practice, no source."""
    pack = CATALOGUE[name].figure(CellPack)
    board = CATALOGUE["controller-compact-5v"].figure(Controller)
    assert pack is not None
    assert board is not None
    assert board.regulator is not None
    volts = pack.elements * ALKALINE_NOMINAL_V
    assert volts == pytest.approx(6.0)
    assert board.regulator.dropout_v == pytest.approx(1.0)
    assert volts >= board.logic_v + board.regulator.dropout_v
    assert board.regulator.in_min_v <= volts <= board.regulator.in_max_v
    assert volts - ALKALINE_NOMINAL_V < board.logic_v + board.regulator.dropout_v


def test_two_li_ion_cells_in_series_serve_a_5_v_board_too() -> None:
    """Common practice, no source."""
    pack = CATALOGUE["cells-18650-2"].figure(CellPack)
    board = CATALOGUE["controller-compact-5v"].figure(Controller)
    assert pack is not None
    assert board is not None
    assert board.regulator is not None
    assert board.regulator.in_min_v < 2 * 3.7 < 2 * 4.2 < board.regulator.in_max_v
    assert pack.elements == 2


def test_9_v_block_holds_little() -> None:
    """A block holds less energy than four AA, though it costs as much. Common practice, no source."""
    block, four = (CATALOGUE[name].figure(CellPack) for name in ("cells-9v-block", "cells-aa-4"))
    assert block is not None
    assert four is not None
    energy = [pack.elements * pack.capacity_mah for pack in (block, four)]
    assert energy[0] < energy[1] / 2
    assert block.resistance_ohm > 2 * four.resistance_ohm * four.cells


def test_typical_currents() -> None:
    """Compact board, wireless board with its peaks, ranger: from memory, not confirmed."""
    compact = CATALOGUE["controller-compact-5v"].figure(Controller)
    wireless = CATALOGUE["controller-wireless-large"].figure(Controller)
    ranger = CATALOGUE["ranger-two-eyed"].figure(Load)
    assert compact is not None
    assert wireless is not None
    assert ranger is not None
    assert compact.current_ma == 20
    assert wireless.current_ma == 80
    assert 300 <= wireless.peak_ma <= 500
    assert ranger.current_ma == 15


def test_two_eyed_ranger_does_not_go_between_panel_walls_of_a_vehicle_six_studs_wide() -> None:
    """Two walls of 1.5 mm and the play of a brick leave 44.8 mm for 45 mm. Common practice, no source."""
    width = CATALOGUE["ranger-two-eyed"].bounds.size[1]
    assert 6 * STUD - 0.2 - 2 * 1.5 < width < 6 * STUD - 0.2


def test_how_many_wires_a_pin_takes() -> None:
    """A pad or tag takes two wires, a socket, a crimp and a lever one. Common practice, no source."""
    for part in CATALOGUE.values():
        for pin in part.pins:
            most = 2 if pin.joint in ("solder", "screw") else 1
            assert 1 <= pin.wires <= most, f"{part.id}.{pin.name}"
    assert {pin.joint for pin in CATALOGUE["controller-mid-5v"].pins} == {"header"}
    assert {pin.joint for pin in CATALOGUE["junction-lever"].pins} == {"lever"}


def test_rails_of_distribution_boards_are_joined_and_their_pins_take_a_wire_each() -> None:
    """A hole of a strip board takes one wire; all holes of a strip are one. Common practice, no source."""
    board = CATALOGUE["junction-two-rails"]
    rails = {pin.joined: [p.name for p in board.pins if p.joined == pin.joined] for pin in board.pins}
    assert {name: len(pins) for name, pins in rails.items()} == {"ground rail": 6, "plus rail": 6}
    assert all(pin.wires == 1 for pin in board.pins)


def test_ground_pins_of_a_controller_are_one() -> None:
    """All ground pins of a controller are joined on the board. Common practice, no source."""
    for part in CATALOGUE.values():
        grounds = [pin for pin in part.pins if pin.role == "ground"]
        if part.family == "controller" and len(grounds) > 1:
            assert {pin.joined for pin in grounds} == {"ground"}, part.id


def test_a_stop_before_a_bank_does_not_shut_its_socket() -> None:
    """A plate below the level of the sockets leaves room for the charging plug.

    A bank of 22 mm on a bed between stops a plate high is a usual build; common practice, no source.
    """
    bank = CATALOGUE["bank-stick"]
    plugs = [one.solid.bounds for one in bank.clearances if one.kind == "plug"]
    assert {one.needed for one in bank.clearances if one.kind == "plug"} == {"always", "access"}
    assert all(box.low[2] > PLATE + STUD_HIGH for box in plugs)
