"""Resistors in series: one with every part on a controller's pin that needs it, of the right value and power.

At its value no more flows than the part bears, at the value below in the series more does; the series is
worked out as rounded powers of ten (E24 of IEC 60063: 10^(i/24), with the eight values that history keeps
otherwise), and it is rated for twice the heat that it gives off.
"""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Controller, SeriesResistor
from fitplan.model.pins_used import Resistor
from fitplan.verify.nodes import parts_of, pins_at
from fitplan.verify.result import Tally

_KEPT = {2.6: 2.7, 2.9: 3.0, 3.2: 3.3, 3.5: 3.6, 3.8: 3.9, 4.2: 4.3, 4.6: 4.7, 8.3: 8.2}
"""What the rounded powers give, and what the series has instead (from memory)."""
_OVER = 1.0001


def series() -> tuple[float, ...]:
    """Return the values of series E24 from 1 Ω to 10 MΩ."""
    decade = [round(10 ** (i / 24), 1) for i in range(24)]
    return tuple(_KEPT.get(one, one) * 10**power for power in range(8) for one in decade)


def check_resistors(built: BuiltTrain, sheet: Tally) -> None:
    """Check that every resistor that is needed is there, and is right."""
    there = {(one.net, one.owner): one for one in built.resistors}
    if len(there) != len(built.resistors):
        sheet.problem("resistor", "train", "one part has two resistors in one net")
    parts = parts_of(built)
    needed: set[tuple[str, str]] = set()
    for net in built.train.nets:
        boards = [
            board
            for ref in net.joins
            if ref.owner in parts and (board := parts[ref.owner].figure(Controller)) is not None
        ]
        if net.role != "signal" or not boards:
            continue
        for ref in net.joins:
            figures = parts[ref.owner].figure(SeriesResistor) if ref.owner in parts else None
            pins = [pin for pin in pins_at(built, parts, ref) if pin.wants & {"output", "pwm"}]
            if figures is None or not pins or built.placement(ref.owner) is None:
                continue
            sheet.count("resistors in series")
            needed.add((net.name, ref.owner))
            one = there.get((net.name, ref.owner))
            if one is None:
                message = f"needs a resistor in {net.name}, and the plan has none"
                sheet.problem("resistor", ref.owner, message)
            else:
                _right(one, figures, boards[0].logic_v, sheet)
    for where in sorted(set(there) - needed):
        sheet.problem("resistor", where[1], f"has a resistor in {where[0]} that nothing asks for")


def _right(one: Resistor, figures: SeriesResistor, volts: float, sheet: Tally) -> None:
    values = series()
    near = min(range(len(values)), key=lambda i: abs(values[i] - one.ohm))
    if abs(values[near] - one.ohm) > 1e-6 * one.ohm:
        sheet.problem("resistor", one.owner, f"{one.ohm:g} Ω is no value of series E24")
        return
    across = max(volts - figures.forward_v, 0.0)
    flows = 1000 * across / (one.ohm + figures.own_ohm)
    before = 1000 * across / (values[near - 1] + figures.own_ohm) if near else float("inf")
    if flows > figures.current_ma * _OVER:
        message = f"{one.ohm:g} Ω let {flows:.1f} mA through; {figures.current_ma:g} mA are the most"
        sheet.problem("resistor", one.owner, message, flows - figures.current_ma, "mA")
    elif before <= figures.current_ma / _OVER:
        sheet.problem("resistor", one.owner, f"{values[near - 1]:g} Ω would do as well as {one.ohm:g} Ω")
    heat = (flows / 1000) ** 2 * one.ohm
    if abs(heat - one.power_w) > 1e-3 * heat + 1e-6 or abs(flows - one.current_ma) > 1e-3 * flows + 1e-6:
        message = (
            f"is said to turn {one.power_w:.3f} W to heat at {one.current_ma:.1f} mA; it is {heat:.3f} W"
        )
        sheet.problem("resistor", one.owner, message, heat - one.power_w, "W")
    if one.rated_w < 2 * heat / _OVER:
        sheet.problem("resistor", one.owner, f"is rated for {one.rated_w:g} W and gives off {heat:.2f} W")
    if one.place != figures.place:
        sheet.problem(
            "resistor", one.owner, f"is said to be in its {one.place}; it is in its {figures.place}"
        )
