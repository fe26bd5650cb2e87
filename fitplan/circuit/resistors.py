"""The resistor in series that a lamp, an emitter or a coil on a signal pin needs: value, power and place."""

from __future__ import annotations

from collections.abc import Mapping

from fitplan.circuit.net_ends import ResolvedEnd, ends_of, parts_of
from fitplan.model.electrical import Controller, SeriesResistor
from fitplan.model.part import Part
from fitplan.model.pins_used import Resistor
from fitplan.model.train import Train

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""The series of 24 values in a decade, ± 5 % (IEC 60063, from memory)."""
RATED_W = (0.125, 0.25, 0.5, 1.0)
"""Powers that small resistors are sold for (common practice); used to a half of it."""


def next_value(ohm: float) -> float:
    """Return the least value of series E24 that is not below a resistance of 1 Ω to 10 MΩ."""
    for decade in range(-1, 7):
        for base in E24:
            value = float(base * 10**decade)
            if value >= ohm * (1 - 1e-9):
                return value
    raise ValueError(f"{ohm:g} Ω lies beyond the series")


def resistor_for(series: SeriesResistor, volts: float) -> tuple[float, float, float]:
    """Return (Ω, mA, W) of the resistor that keeps a part to its current at these volts."""
    across = max(volts - series.forward_v, 0.0)
    ohm = next_value(max(1000 * across / series.current_ma - series.own_ohm, 1.0))
    current = across / (ohm + series.own_ohm)
    return ohm, 1000 * current, current**2 * ohm


def resistors_of(train: Train, chosen: Mapping[str, Part]) -> tuple[Resistor, ...]:
    """Return the resistors of all parts that controllers' pins feed, in the order of the nets."""
    parts = parts_of(train, chosen)
    found = []
    for net in train.nets:
        if net.role != "signal":
            continue
        ends = ends_of(train, chosen, net)
        board = next((f for e in ends if (f := _board(e, parts)) is not None), None)
        if board is None:
            continue
        for end in ends:
            series = end.part.figure(SeriesResistor) if end.part is not None else None
            if series is None or not any(pin.wants & {"output", "pwm"} for pin in end.pins):
                continue
            ohm, current, power = resistor_for(series, board.logic_v)
            rated = next((watt for watt in RATED_W if power <= watt / 2), RATED_W[-1])
            pin = next(pin.name for pin in end.pins if pin.wants & {"output", "pwm"})
            found.append(Resistor(end.owner, pin, net.name, ohm, current, power, rated, series.place))
    return tuple(found)


def _board(end: ResolvedEnd, parts: Mapping[str, Part]) -> Controller | None:
    return parts[end.owner].figure(Controller) if end.owner in parts else None
