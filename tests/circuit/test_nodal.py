"""The discharge against a circuit written as nodal equations and solved by scipy, wire by wire.

Nothing of the supply tree is used here but the table of the alkaline cell: conductances, a current sink at
each load, a regulator as a sink that follows its own law, and all nodes solved at once.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, root

from fitplan.circuit.cells import BEHAVIOURS
from fitplan.circuit.chain import flow_through
from fitplan.circuit.discharge import discharge
from fitplan.circuit.leads import lead_ohms
from fitplan.circuit.supply import build_supply
from fitplan.model.copper import awg_ohm_per_m
from fitplan.model.electrical import CellPack, Regulator
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import board, cells, fuse, need, net, ranger, step_up, switch, train
from tests.circuit.test_leads import wire

BROWN_OUT = 4.3
BOARD_MA, BOARD_PEAK_MA, EYES_MA, EYES_PEAK_MA = 20.0, 40.0, 30.0, 60.0


def circuit(raw: bool, cut: float, awg: int) -> tuple[float, float]:
    """Hours and charge left: (by the program, by nodal equations), for cells, fuse, switch and a board."""
    pack = CellPack("alkaline", "AA", 4 if raw else 2, 2500.0, 0.15, 2000.0)
    lift = Regulator("step-up", 5.0, 1.2, 5.0, 2000.0, efficiency=0.85, quiescent_ma=1.0)
    needs = [
        need("cells", cells(pack.cells)),
        need("fuse", fuse()),
        need("main", switch()),
        need("brain", board(brown_out=BROWN_OUT)),
        need("eyes", ranger(current=EYES_MA)),
    ]
    nets = [
        net("plus", "supply", "cells.plus", "fuse.a"),
        net("fused", "supply", "fuse.b", "main.a"),
        net("on", "supply", "main.b", "brain.raw" if raw else "lift.in"),
        net("ground", "ground", "cells.minus", "brain.GND", "eyes.GND", *(() if raw else ("lift.GND",))),
        net("five", "supply", *(("brain.5v",) if raw else ("lift.out", "brain.5v")), "eyes.VCC"),
    ]
    if not raw:
        needs.append(need("lift", step_up(lift)))
    giver = "brain" if raw else "lift"
    wires = [
        wire(1, "plus", "cells.plus", "fuse.a", cut, awg),
        wire(2, "fused", "fuse.b", "main.a", cut, awg),
        wire(3, "on", "main.b", f"{giver}.in", cut, awg),
        wire(4, "ground", "cells.minus", f"{giver}.GND", cut, awg, "ground"),
    ]
    # What hangs beside the regulator is wired with next to nothing, so that all returns by the fourth wire.
    beside = ["eyes"] if raw else ["eyes", "brain"]
    wires += [wire(5 + i, "five", f"{giver}.out", f"{o}.VCC", 0.01, 24) for i, o in enumerate(beside)]
    wires += [
        wire(8 + i, "ground", f"{giver}.GND", f"{o}.GND", 0.01, 24, "ground") for i, o in enumerate(beside)
    ]
    made = train(needs, nets)
    tree = build_supply(made, {}).trees[0]
    _, flow = flow_through(tree.root, 1.5 * pack.cells, True, {})
    run = discharge(tree, lead_ohms(made, Harness(tuple(wires)), tree, flow))
    return run.hours, by_nodes(pack, raw, awg_ohm_per_m(awg) * cut / 1000, lift)


def by_nodes(pack: CellPack, raw: bool, ohm: float, lift: Regulator) -> float:
    """Return the hours of the same circuit from its nodal equations.

    Nodes: cells' plus, behind the fuse's lead and the fuse, behind the switch's lead, at the regulator; and
    the regulator's ground.  The cells' minus is the reference.
    """
    known = BEHAVIOURS["alkaline"]

    def open_and_inner(charge: float) -> tuple[float, float]:
        volts = pack.cells * float(np.interp(charge, known.charge, known.volts))
        return volts, pack.cells * pack.resistance_ohm * (1 + known.rise * (1 - charge))

    def sink(across: float, peak: bool) -> float:
        """Amps into the regulator at these volts across it."""
        out = ((BOARD_PEAK_MA + EYES_PEAK_MA) if peak else (BOARD_MA + EYES_MA)) / 1000
        return out + 0.005 if raw else 5.0 * out / (0.85 * across) + 0.001

    def solve(charge: float, peak: bool) -> np.ndarray | None:
        volts, inner = open_and_inner(charge)
        lead, inside = 1 / ohm, 1 / 0.3

        def equations(v: np.ndarray) -> list[float]:
            a, b, c, d, g = v
            amps = sink(d - g, peak)
            return [
                (volts - a) / inner - (a - b) * lead,
                (a - b) * lead - (b - c) * inside,
                (b - c) * inside - (c - d) / (2 * ohm),
                (c - d) / (2 * ohm) - amps,
                amps - g * lead,
            ]

        solved = root(equations, [volts, volts, volts, volts, 0.0], tol=1e-10)
        # Where no volts solve them, the cells cannot give the power.
        return np.asarray(solved.x) if max(map(abs, equations(solved.x))) < 1e-8 else None

    def spare(charge: float) -> float:
        v = solve(charge, True)
        if v is None:
            return -1.0
        if raw:
            return float(min(5.0, v[3] - v[4] - 1.0) - 4.5)  # the rangers give up before the board
        return float(v[3] - v[4] - lift.in_min_v)

    def hours_per_charge(charge: float) -> float:
        v = solve(charge, False)
        assert v is not None
        amps = v[4] / ohm
        stated = pack.capacity_mah / 1000 / known.stated_hours
        factor = max(known.gentlest, (amps / stated) ** (known.exponent - 1))
        return float(pack.capacity_mah / 1000 / (amps * factor))

    # Volts fall with the charge, so there is one place at which nothing is left to spare.
    end = float(brentq(spare, 0.005, 1.0, xtol=1e-6))
    charges = np.linspace(end, 1.0, 300)
    return float(np.trapezoid([hours_per_charge(float(charge)) for charge in charges], charges))


@pytest.mark.parametrize(("raw", "cut", "awg"), [(True, 1500.0, 30), (True, 150.0, 24), (False, 150.0, 24)])
def test_discharge_solves_the_nodal_equations(raw: bool, cut: float, awg: int) -> None:
    """Hours through fuse, switch and four leads agree within 0.5 %, short and thick or long and thin."""
    hours, expected = circuit(raw, cut, awg)
    assert expected > 1.0
    assert hours == pytest.approx(expected, rel=5e-3)


def test_leads_ahead_of_the_switch_count() -> None:
    """A long thin lead between cells and fuse costs hours, as does one behind the switch."""
    short, long = circuit(True, 50.0, 24)[0], circuit(True, 2500.0, 30)[0]
    assert long < 0.9 * short
