"""Charging boards at cells: current, kind, number and levelling, each on both sides of its limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.safety import _charging, _protection
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.supply import build_supply
from fitplan.model.electrical import CellPack
from fitplan.model.found import Finding
from fitplan.model.part import Part
from tests.circuit.sample_parts import cells
from tests.circuit.test_fault_rules import PARTS, chain, guard, made


def told(pack: CellPack, board: Part) -> list[Finding]:
    """What is said of a charging board that lies between cells and the train."""
    parts = {**PARTS, "cells": replace(cells(1), electrical=(pack,)), "guard": board}
    parts = {name: parts[name] for name in ("cells", "guard", "brain")}
    whole = made(parts, *chain())
    (tree,) = build_supply(whole, parts).trees
    return list(_charging(read_circuit(whole, parts), tree, pack))


LITHIUM = CellPack("li-ion", "18650", 1, 1000.0, 0.05, 2000.0)


@pytest.mark.parametrize(
    ("pack", "board", "rows"),
    [
        (LITHIUM, guard(), []),  # 500 mA into 1000 mAh: half of it in an hour
        (LITHIUM, guard(charge_ma=501.0), [(501.0, 500.0, "mA")]),
        (replace(LITHIUM, charge_ma=400.0), guard(), [(500.0, 400.0, "mA")]),
        (replace(LITHIUM, charge_ma=500.0), guard(), []),
        (replace(LITHIUM, chemistry="nimh"), guard(), [(1.0, 0.0, "cells")]),
        (replace(LITHIUM, cells=2), guard(), [(2.0, 1.0, "cells")]),
        (replace(LITHIUM, cells=2), guard(cells=2), [(0.0, 1.0, "circuits")]),
        (replace(LITHIUM, cells=2), guard(cells=2, balances=True), []),
        (
            replace(LITHIUM, cells=2),
            guard(cells=2, charge_ma=600.0),
            [(600.0, 500.0, "mA"), (0.0, 1.0, "circuits")],
        ),
        (
            replace(LITHIUM, chemistry="nimh", cells=2, capacity_mah=5000.0),
            guard(chemistry="nimh", cells=2),
            [],  # a tenth of the capacity; what is no lithium needs no levelling
        ),
        (
            replace(LITHIUM, chemistry="nimh", capacity_mah=4990.0),
            guard(chemistry="nimh"),
            [(500.0, 499.0, "mA")],
        ),
    ],
)
def test_what_charges_cells(pack: CellPack, board: Part, rows: list[tuple[float, float, str]]) -> None:
    """Every one of these is a stop; what cannot be charged at all is asked nothing more."""
    found = told(pack, board)
    assert [(one.figure, one.limit, one.unit) for one in found] == rows
    for one in found:
        assert (one.severity, one.where) == ("stop", "guard at cells")
        if one.unit == "mA":
            assert f"cells of at least {pack.capacity_mah * one.figure / one.limit:.0f} mAh" in one.remedy
            assert f"cells of {pack.capacity_mah:.0f} mAh stand {one.limit:.0f} mA" in one.message
        if one.unit == "cells":
            assert ("IEC 62133" in one.source) is (pack.chemistry == "li-ion")
            assert f"cells has {pack.elements} {pack.chemistry} in series" in one.message


@pytest.mark.parametrize(
    ("pack", "severity", "remedy"),
    [
        (LITHIUM, "stop", "use a cell with its own protection"),
        (
            replace(LITHIUM, cells=2),
            "stop",
            "use cells with their own protection, or a protection circuit for 2",
        ),
        (replace(LITHIUM, protected=True), "note", "nothing to do"),
        (replace(LITHIUM, chemistry="nimh"), None, ""),
    ],
)
def test_cells_without_a_guard(pack: CellPack, severity: str | None, remedy: str) -> None:
    """Lithium alone wants one; several in series one that levels them."""
    parts = {"cells": replace(cells(1), electrical=(pack,)), "brain": PARTS["brain"]}
    nets = [replace(chain()[0], joins=(chain()[0].joins[0], *chain()[1].joins[1:]))]
    whole = made(parts, *nets)
    (tree,) = build_supply(whole, parts).trees
    found = list(_protection(read_circuit(whole, parts), parts, tree, pack))
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert one.remedy.startswith(remedy)
        assert (one.figure, one.limit) == ((0.0 if severity == "stop" else 1.0), 1.0)
