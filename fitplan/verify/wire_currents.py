"""What a wire carries against what its copper bears, and the volts that it loses."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    Coil,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.found import Finding
from fitplan.model.wired import Wire, WireEnd
from fitplan.verify.result import Tally

_CIRCULAR_MILS_PER_A = 711.0
_OHM_MM2_PER_M = 1 / 58 * (1 + 0.00393 * 20) * 1.02
"""Stranded copper at 40 °C: IEC 60028, its temperature coefficient, and 2 % for the lay of the strands."""
_PASSING = (CellPack, Bank, Regulator, Controller, MotorDriver, Charger, Coil, Switch, Fuse)
"""Figures of what hands current on."""


def check_bears(built: BuiltTrain, wire: Wire, findings: tuple[Finding, ...], sheet: Tally) -> None:
    """Check that what a wire carries is borne by its copper, or told of."""
    if wire.awg > 60 or wire.awg < -3:
        sheet.problem("wire", wire.label, f"AWG {wire.awg} is no gauge")
        return
    most = 1000 * (_copper_mm(wire.awg) / 25.4 * 1000) ** 2 / _CIRCULAR_MILS_PER_A
    carried = min(wire.current_ma, *(_taken_by(built, end) for end in (wire.start, wire.end)))
    if carried > most * 1.01 and not any(
        entry.subject == "wire" and entry.severity != "note" for entry in findings
    ):
        message = f"carries {carried:.0f} mA; AWG {wire.awg} bears {most:.0f} mA, and no finding says so"
        sheet.problem("wire", wire.label, message, carried - most, "mA")


def _taken_by(built: BuiltTrain, end: WireEnd) -> float:
    """Return what a wire carries at the most that alone leads to a part which only takes, in mA."""
    placement = built.placement(end.owner) if end.kind == "pin" else None
    load = placement.part.figure(Load) if placement is not None else None
    if (
        placement is None
        or load is None
        or any(isinstance(one, _PASSING) for one in placement.part.electrical)
    ):
        return math.inf
    alone = sum((one.owner, one.pin) == (end.owner, end.pin) for one in _ends(built)) == 1
    return load.current_ma if alone else math.inf


def _ends(built: BuiltTrain) -> Iterator[WireEnd]:
    for wire in built.harness.wires:
        yield from (wire.start, wire.end)


def _copper_mm(awg: int) -> float:
    return float(0.127 * 92 ** ((36 - awg) / 39))


def ohm_per_m(awg: int) -> float:
    """Return what a metre of stranded copper of a gauge resists at 40 °C."""
    return _OHM_MM2_PER_M / (math.pi / 4 * _copper_mm(awg) ** 2)


def check_drop(wire: Wire, sheet: Tally) -> None:
    """Check the volts that a wire is said to lose."""
    if not -3 <= wire.awg <= 60:
        return
    drop = wire.current_ma / 1000 * ohm_per_m(wire.awg) * wire.cut_mm / 1000
    off = abs(drop - wire.drop_v)
    if off > 0.03 * drop + 2e-5 or wire.current_ma < 0:
        message = f"says {wire.drop_v:.4f} V are lost at {wire.current_ma:g} mA; copper says {drop:.4f} V"
        sheet.problem("wire", wire.label, message, off, "V")
