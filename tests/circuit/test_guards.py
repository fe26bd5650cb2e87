"""What guards and charges cells: a rail on the way is no way past, and each chemistry has its own current."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.protection import chargings_of, protection_of
from fitplan.circuit.supply import build_supply
from fitplan.files.catalogue import read_catalogue
from fitplan.model.electrical import CellPack, Charger
from fitplan.model.part import Part
from fitplan.model.train import Train
from tests.circuit.sample_parts import need, net, train

CATALOGUE = read_catalogue()


def guarded(cells: Part, charger: Part, *minus: str) -> Train:
    """Cells behind a charging board, with more on the conductor of their minus."""
    parts = {
        "cells": cells,
        "charger": charger,
        "rail": CATALOGUE["junction-one-rail"],
        "lamp": CATALOGUE["lamp-strip"],
        "lift": CATALOGUE["regulator-step-up-5v"],
        "brain": CATALOGUE["controller-compact-5v"],
    }
    nets = [
        net("cell minus", "ground", "cells.minus", "charger.cellminus", *minus),
        net("cell", "supply", "cells.plus", "charger.cell"),
        net("out", "supply", "charger.out", "lift.in"),
        net("ground", "ground", "charger.GND", "lift.GND", "brain.GND"),
        net("five", "supply", "lift.out", "brain.5V", "lamp.VCC"),
    ]
    return train([need(name, part) for name, part in parts.items()], nets, catalogue=CATALOGUE)


@pytest.mark.parametrize(
    ("minus", "lack"),
    [
        ((), ""),
        (("rail.P1",), ""),
        (("lamp.GND",), "bypassed at minus"),
        (("brain.GND2",), "bypassed at minus"),
    ],
)
def test_only_what_draws_passes_a_guard_by(minus: tuple[str, ...], lack: str) -> None:
    """A rail draws nothing; a lamp or a board on the cells' minus sends its current past the board."""
    made = guarded(CATALOGUE["cells-18650-1"], CATALOGUE["charger-protected"], *minus)
    (tree,) = build_supply(made, {}).trees
    assert isinstance(tree.source, CellPack)
    parts = {one.name: one.candidates[0] for one in made.needs}
    assert protection_of(read_circuit(made, {}), parts, tree, tree.source).lack == lack


@pytest.mark.parametrize(
    ("chemistry", "stated", "most"),
    [("li-ion", 0.0, 1000.0), ("nimh", 0.0, 200.0), ("alkaline", 0.0, 0.0), ("nimh", 700.0, 700.0)],
)
def test_how_fast_cells_may_be_charged(chemistry: str, stated: float, most: float) -> None:
    """2000 mAh that state nothing: half of it in an hour for li-ion, a tenth for NiMH, nothing for alkaline.

    Common practice, no source; what the cells state goes before.
    """
    old, board = CATALOGUE["cells-18650-1"], CATALOGUE["charger-protected"]
    figures = old.figure(CellPack)
    assert figures is not None
    pack = replace(figures, chemistry=chemistry, capacity_mah=2000.0, charge_ma=stated)
    made = guarded(replace(old, electrical=(pack,)), board)
    (tree,) = build_supply(made, {}).trees
    (found,) = chargings_of(read_circuit(made, {}), tree, pack)
    assert (found.owner, found.most_ma) == ("charger", most)
    assert found.figures == board.figure(Charger)
