"""Charging without a plug: whether a coil gives what its charger takes, and how far the sender is."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.circuit.nodes import Circuit
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.electrical import Charger, Coil
from fitplan.model.found import Finding

SENDER = "sender for wireless charging, with its adapter"
ABOUT_MM = 0.3
"""So much farther (mm) is as near: under a coil lies a plate of 3.2 mm (common practice, no source)."""


def coil_findings(subject: str, built: BuiltTrain, circuit: Circuit) -> Iterator[Finding]:
    """Yield what is to be said of each receiver coil that is joined to a charging board.

    One that is joined to none is told among the nets. The sender is held to the underside of the vehicle.
    """
    for owner, part in circuit.parts.items():
        coil = part.figure(Coil)
        if coil is None:
            continue
        charged = {
            net_pin.owner: charger.charge_ma
            for _, node in circuit.at(owner, "plus")
            for net_pin in node.net_pins
            if net_pin.pin is not None and net_pin.pin.role == "charge" and net_pin.part is not None
            if (charger := net_pin.part.figure(Charger)) is not None
        }
        if charged and sum(charged.values()) > coil.max_ma:
            yield Finding(
                subject,
                "caution",
                f"{' and '.join(charged)} at {owner}",
                f"{' and '.join(charged)} charges with {sum(charged.values()):.0f} mA, and {owner} gives "
                f"{coil.max_ma:.0f}: its volts break down, and little or nothing is charged",
                sum(charged.values()),
                coil.max_ma,
                "mA",
                f"set the charging current to {coil.max_ma:.0f} mA or less as its data sheet says, or take a "
                "coil that gives more",
                "currents of both at 5 V, from their parts",
            )
        placement = built.placement(owner)
        if charged and placement is not None:
            body = built.train.vehicle(placement.vehicle).vehicle
            yield _over_the_sender(
                subject, owner, coil, placement.vehicle, placement.bounds.low[2] - body.base
            )


def _over_the_sender(subject: str, owner: str, coil: Coil, vehicle: str, gap: float) -> Finding:
    """Tell how far a coil lies above the underside of its vehicle, where the sender comes nearest."""
    far = gap > coil.reach_mm + ABOUT_MM
    lies = f"{owner} lies {gap:.1f} mm above the underside of {vehicle}"
    return Finding(
        subject,
        "caution" if far else "note",
        f"{owner} in {vehicle}",
        f"{lies}, and charges from a sender no more than {coil.reach_mm:g} mm off"
        if far
        else f"{lies}: hold the sender against it there, with nothing of metal between",
        round(gap, 1),
        coil.reach_mm,
        "mm",
        f"leave bricks out under it: {coil.reach_mm:g} mm or less above the underside is near enough, or "
        "charge by the socket"
        if far
        else "charge only while somebody is there; have a sender that goes with the coil",
        "from the underside of the body to the lower face of the coil; the reach is the part's figure",
        add=() if far else (Asked(SENDER),),
    )
