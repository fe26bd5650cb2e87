"""Whether all wires of a port go through it together, and with play enough to be pulled."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from fitplan.model.found import Finding, Severity
from fitplan.model.train import Train
from fitplan.model.wiring_facts import PortLoad

SUBJECT = "wire"
SOURCE = "arrangements and bounds of circles in a rectangle"


def port_findings(train: Train, loads: Iterable[PortLoad], share: float) -> Iterator[Finding]:
    """Judge each port with all the wires that pass it.

    Parameters
    ----------
    share
        Share of the sides of the opening, or of what is left of it, that the wires may fill.
    """
    for load in loads:
        opening, clear = opening_of(train, load), (load.width_mm, load.height_mm)
        covered = clear != opening
        severity, says, remedy = _judged(load, share, covered)
        known = load.share if math.isfinite(load.share) else 1.0
        yield Finding(
            SUBJECT,
            severity,
            f"{load.vehicle}, {load.port}",
            f"{len(load.wires)} wires make a bundle of {load.bundle_mm:.1f} mm; the port has "
            f"{_sides(opening)}{_left(clear) if covered else ''}{says}",
            round(known, 2),
            share,
            "of the sides of what is left" if covered else "of the opening's sides",
            remedy,
            f"{SOURCE}; {100 * share:.0f} % of the port: a setting of this check, common practice",
        )


def opening_of(train: Train, load: PortLoad) -> tuple[float, float]:
    """Return width and height (mm) of the whole opening of a port that wires pass."""
    port = train.vehicle(load.vehicle).vehicle.port(load.port)
    assert port is not None  # it is told of ports of the train
    return (round(port.opening[0], 3), round(port.opening[1], 3))


def _left(clear: tuple[float, float]) -> str:
    rest = f"{_sides(clear)} of it are left in one piece" if min(clear) > 0 else "nothing of it is left"
    return f", and beside what stands close behind it {rest}"


def _sides(size: tuple[float, float]) -> str:
    return f"{size[0]:.1f} × {size[1]:.1f} mm"


def _judged(load: PortLoad, share: float, covered: bool) -> tuple[Severity, str, str]:
    rest = "send some wires through another one"
    remedy = f"use thinner wire, {'clear the room behind it' if covered else 'widen the port'}, or {rest}"
    if load.through == "cannot":
        return "stop", f", and they do not go through: {load.proof}", remedy
    if load.through == "not decided":
        return "caution", ": whether they go through is not decided", f"try it, or {remedy}"
    if load.share > share:
        return "caution", ", which they fill so far that they are hard to pull through", remedy
    return "note", "", "nothing to do"
