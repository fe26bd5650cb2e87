"""Whether all wires of a port go through it together, and with play enough to be pulled."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from fitplan.model.found import Finding, Severity
from fitplan.model.wiring_facts import PortLoad

SUBJECT = "wire"
SOURCE = "arrangements and bounds of circles in a rectangle"


def port_findings(loads: Iterable[PortLoad], share: float) -> Iterator[Finding]:
    """Judge each port with all the wires that pass it.

    Parameters
    ----------
    share
        Share of the opening's sides that the wires may fill.
    """
    for load in loads:
        severity, says, remedy = _judged(load, share)
        known = load.share if math.isfinite(load.share) else 1.0
        yield Finding(
            SUBJECT,
            severity,
            f"{load.vehicle}, {load.port}",
            f"{len(load.wires)} wires make a bundle of {load.bundle_mm:.1f} mm; the port has "
            f"{load.width_mm:.1f} × {load.height_mm:.1f} mm{says}",
            round(known, 2),
            share,
            "of the opening's sides",
            remedy,
            f"{SOURCE}; {100 * share:.0f} % of the port: a setting of this check, common practice",
        )


def _judged(load: PortLoad, share: float) -> tuple[Severity, str, str]:
    remedy = "use thinner wire, widen the port, or send some wires through another one"
    if load.through == "cannot":
        return "stop", f", and they do not go through: {load.proof}", remedy
    if load.through == "not decided":
        return "caution", ": whether they go through is not decided", f"try it, or {remedy}"
    if load.share > share:
        return "caution", ", which they fill so far that they are hard to pull through", remedy
    return "note", "", "nothing to do"
