"""Levels of nets against linear algebra, and what every pin of the catalogue stands."""

from __future__ import annotations

import random

import numpy as np
import pytest

from fitplan.circuit.nodes import Level, let_through, read_circuit
from fitplan.circuit.ratings import rating_of
from fitplan.circuit.supply_tree import full_volts, nominal_volts
from fitplan.files.catalogue import read_catalogue
from fitplan.model.electrical import CellPack, Regulator
from fitplan.model.part import Part
from fitplan.model.train import Train
from tests.circuit.sample_parts import board, cells, fuse, need, net, ranger, step_up, switch, train

CATALOGUE = read_catalogue()


def tower(seed: int) -> tuple[Train, dict[str, tuple[str, str, float, float]]]:
    """Packs stacked in series in several towers, with switches between; each pack's nets and volts."""
    dice = random.Random(seed)
    needs, nets, packs = [], {"ground": ["ground"]}, {}
    roots = {"ground": "ground"}
    for number in range(dice.randint(1, 6)):
        pack = cells(dice.randint(1, 4), dice.choice(["alkaline", "nimh", "li-ion"]))
        foot = dice.choice(sorted(nets))
        top = f"net {number}"
        needs.append(need(f"pack {number}", pack))
        nets[foot].append(f"pack {number}.minus")
        nets[top] = [top, f"pack {number}.plus"]
        roots[top] = top
        figures = pack.figure(CellPack)
        assert figures is not None
        packs[f"pack {number}"] = (top, foot, nominal_volts(figures), full_volts(figures))
        if dice.random() < 0.5:
            beyond = f"switched {number}"
            needs.append(need(f"switch {number}", switch()))
            nets[top].append(f"switch {number}.a")
            nets[beyond] = [beyond, f"switch {number}.b"]
            roots[beyond] = top
    written = [
        net(name, "ground" if name == "ground" else "supply", *joins[1:]) for name, joins in nets.items()
    ]
    return train(needs, written), packs


@pytest.mark.parametrize("seed", range(60))
def test_levels_of_stacked_cells_solve_the_nodal_equations(seed: int) -> None:
    """Every pack makes V(plus) − V(minus) its own volts: the same as least squares over all nets gives."""
    made, packs = tower(seed)
    circuit = read_circuit(made, {})
    nodes = [one.nets for one in circuit.nodes if not one.is_ground]
    for pick in (2, 3):
        rows, wanted = [], []
        for top, foot, *volts in packs.values():
            row = [0.0] * len(nodes)
            for number, names in enumerate(nodes):
                row[number] += (top in names) - (foot in names)
            rows.append(row)
            wanted.append(volts[pick - 2])
        solved, residual, *_ = np.linalg.lstsq(np.array(rows), np.array(wanted), rcond=None)
        assert not len(residual) or residual[0] < 1e-9
        for number, names in enumerate(nodes):
            level = circuit.node(names[0]).level
            assert level is not None
            found = level.nominal_v if pick == 2 else level.most_v
            assert found == pytest.approx(solved[number])


@pytest.mark.parametrize(
    ("kind", "entering", "nominal", "most"),
    [
        ("linear", Level(9.0, 10.1), 5.0, 5.0),
        ("linear", Level(4.5, 5.04), 3.5, 5.0),
        ("step-down", Level(9.0, 10.1), 5.0, 5.0),
        ("step-up", Level(3.0, 3.36), 5.0, 5.0),
        ("step-up", Level(6.0, 6.72), 6.0, 6.72),
        ("step-up-down", Level(6.0, 6.72), 5.0, 5.0),
    ],
)
def test_what_a_regulator_lets_through(kind: str, entering: Level, nominal: float, most: float) -> None:
    """A linear one passes on volts that are too low, a step-up volts that are too high."""
    regulator = Regulator(kind, 5.0, 1.0, 12.0, 500.0, dropout_v=1.0)  # type: ignore[arg-type]
    assert let_through(regulator, entering) == Level(nominal, most)


def test_a_switch_and_a_fuse_are_one_conductor() -> None:
    """From the cells through fuse and switch to the board is one conductor while the switch is on."""
    made = train(
        [need("cells", cells()), need("fuse", fuse()), need("main", switch()), need("brain", board())],
        [
            net("ground", "ground", "cells.minus", "brain.GND"),
            net("raw", "supply", "cells.plus", "fuse.a"),
            net("fused", "supply", "fuse.b", "main.a"),
            net("on", "supply", "main.b", "brain.raw"),
        ],
    )
    circuit = read_circuit(made, {})
    assert circuit.node("on").nets == ("raw", "fused", "on")
    level = circuit.node("on").level
    assert level is not None
    assert level.most_v == pytest.approx(4 * 1.68)


def test_rails_of_a_board_behind_a_step_up() -> None:
    """Two AA through a step-up into the 5 V pin: the 3.3 V rail is given by the board."""
    made = train(
        [need("cells", cells(2)), need("lift", step_up()), need("brain", board()), need("eyes", ranger())],
        [
            net("ground", "ground", "cells.minus", "lift.GND", "brain.GND", "eyes.GND"),
            net("low", "supply", "cells.plus", "lift.in"),
            net("five", "supply", "lift.out", "brain.5v"),
            net("three", "supply", "brain.3v3", "eyes.VCC"),
        ],
    )
    circuit = read_circuit(made, {})
    assert [giver.owner for giver in circuit.node("five").givers] == ["lift"]
    three = circuit.node("three")
    assert [giver.owner for giver in three.givers] == ["brain"]
    assert three.level == Level(3.3, 3.3)


def _fed_pins(part: Part) -> list[str]:
    roles = {"raw", "5v", "3v3", "supply"}
    return [pin.name for pin in part.pins if pin.role in roles or pin.role == "signal"]


@pytest.mark.parametrize("part", [p for p in CATALOGUE.values() if p.electrical], ids=lambda p: p.id)
def test_every_fed_pin_of_the_catalogue_has_a_range_and_an_absolute_maximum(part: Part) -> None:
    """Supply, regulator and signal pins state what they work with and what destroys them, in that order."""
    if part.family in ("connector", "wire"):
        return
    for name in _fed_pins(part):
        rating = rating_of(part, part.pin(name))
        assert rating is not None, name
        assert 0 <= rating.least_v < rating.most_v <= rating.limit_v < 60, name


def test_the_catalogue_states_its_absolute_maxima() -> None:
    """No controller, load, driver or regulator of the catalogue rests on a rule of thumb for its maximum."""
    for part in CATALOGUE.values():
        for figures in part.electrical:
            for field in ("rail_limit_v", "pin_limit_v", "limit_v", "in_limit_v"):
                if hasattr(figures, field):
                    assert getattr(figures, field) > 0, (part.id, field)
            regulator = getattr(figures, "regulator", None)
            if regulator is not None:
                assert regulator.in_limit_v >= regulator.in_max_v, part.id
