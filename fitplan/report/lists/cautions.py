"""The usual cautions for a plan; makers' data sheets and local codes come first."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack
from fitplan.model.plan import Plan

CAUTIONS: dict[str, str] = {
    "lithium": (
        "Lithium cells: use cells with a protection circuit, never short, pierce, crush or heat them, never"
        " charge below 0 °C or unattended, and stop using a cell that is swollen or damaged."
    ),
    "button-cell": (
        "Button cells: keep them and the model out of small children's reach, behind screwed lids. If"
        " one is swallowed, get medical help at once."
    ),
    "nimh": "NiMH cells: never short them; charge them outside the model, in a charger made for them.",
    "primary-cells": "Primary cells: never charge them or mix old and new; take them out for storage.",
    "mains-charger": "Chargers: use the maker's mains adapter, on a hard surface, in sight.",
    "soldering": "Soldering: ventilate, wear eye protection, wash your hands; park the hot iron safely.",
    "two-supplies": (
        "Two supplies: switch the train off, or take its cells out, before you plug a lead into the"
        " controller's own socket; what feeds its rail would feed the computer, too."
    ),
    "small-parts": "Small parts are not for children under three.",
}
"""Known cautions by their word in the catalogue. Common practice, no source."""
ALWAYS = (
    "Before the first switch-on, measure each supply for a short to ground and check the polarity.",
    "Switch off and take the cells out before you open, couple or uncouple vehicles.",
    CAUTIONS["small-parts"],
    "These are usual cautions only: the makers' data sheets and your local codes come first.",
)


def cautions_of(plan: Plan) -> tuple[str, ...]:
    """Return the cautions that apply to a plan, those of its parts first, without repetition."""
    words: list[str] = []
    for placement in plan.built.placements:
        words += placement.part.cautions
        pack = placement.part.figure(CellPack)
        if pack is not None and pack.chemistry == "li-ion":
            words.append("lithium")
    if plan.built.harness.wires:
        words.append("soldering")
    if _has_two_supplies(plan.built):
        words.append("two-supplies")
    own = [CAUTIONS.get(word, word) for word in words]
    return tuple(dict.fromkeys((*own, *ALWAYS)))


def _has_two_supplies(built: BuiltTrain) -> bool:
    """Return whether a controller with a socket of its own is fed at its regulated rail by something else."""
    for placement in built.placements:
        if not any(access.kind == "console" for access in placement.part.access):
            continue
        for net in built.train.nets:
            meant = [
                (ref.owner, pin.role)
                for ref in net.joins
                for pin in built.pins_of(ref.owner)
                if ref.pin in (pin.name, pin.role)
            ]
            fed = {(placement.need, "5v"), (placement.need, "3v3")} & set(meant)
            if fed and any(role == "plus" for owner, role in meant if owner != placement.need):
                return True
    return False
