"""A train that is built without an iron: what wants one all the same, and what that costs in room."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.forms import soldered_forms, stem_of
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.solids import Vec, bounds_of

SUBJECT = "leads"
_SETTING = "`solder: no` in `wiring`"


def without_an_iron(built: BuiltTrain) -> Iterator[Finding]:
    """Yield what wants an iron all the same, and what doing without costs in room."""
    yield from _soldered(built)
    yield from _costs(built)


def _costs(built: BuiltTrain) -> Iterator[Finding]:
    """Tell how much more room parts want with sockets at their pins, and what is left over of leads."""
    more, words = 0.0, []
    for placement in built.placements:
        bare = _soldered_form(built, placement.part)
        if bare is None:
            continue
        its, mine = (_room(part) for part in (bare, placement.part))
        if its == mine:
            continue
        more += (math.prod(mine) - math.prod(its)) / 1000
        size, other = (" × ".join(f"{edge:.1f}" for edge in one) for one in (mine, its))
        words.append(f"{placement.need} {size} mm ({other} mm soldered)")
    leads = [wire.lead for wire in built.harness.wires if wire.lead is not None and not wire.inside]
    folds = [lead.fold for lead in leads if lead.fold is not None]
    stowed = sum(fold.volume for fold in folds) / 1000
    if words or folds:
        told = [f"with sockets or leads at their pins these take: {', '.join(words)}"] if words else []
        if folds:
            leads_word = "a lead" if len(folds) == 1 else f"{len(folds)} leads"
            told.append(f"what is left over of {leads_word} takes {stowed:.1f} cm³")
        yield Finding(
            SUBJECT, "note", "train", f"without an iron: {'; '.join(told)}",
            round(more + stowed, 1), 0.0, "cm³", "nothing to do", _SETTING,
        )  # fmt: skip


def _soldered_form(built: BuiltTrain, part: Part) -> Part | None:
    """Return the form of a part that wires are soldered to, of what is plugged or comes with leads."""
    known = (built.train.catalogue.get(name) for name in soldered_forms(part.id))
    return next((form for form in known if form is not None), None)


def _soldered(built: BuiltTrain) -> Iterator[Finding]:
    """Yield what wants an iron: pins, splices, resistors in leads; with the form that does without it."""
    ends = [end for wire in built.harness.wires for end in (wire.start, wire.end) if end.kind == "pin"]
    for owner in dict.fromkeys(end.owner for end in ends):
        pins = {pin.name: pin for pin in built.pins_of(owner)}
        used = sorted({end.pin for end in ends if end.owner == owner and pins[end.pin].joint == "solder"})
        if used:
            yield Finding(
                SUBJECT, "stop", owner, f"wires are soldered to its pins {', '.join(used)}",
                float(len(used)), 0.0, "joints", _form_without(built, owner), _SETTING,
            )  # fmt: skip
    if built.harness.splices:
        names = ", ".join(splice.name for splice in built.harness.splices)
        yield Finding(
            SUBJECT, "stop", "harness", f"wires are soldered together in {names}",
            float(len(built.harness.splices)), 0.0, "splices",
            "add a distribution board or terminal to the net, and join its ends there", _SETTING,
            add=(Asked("distribution board or terminal"),),
        )  # fmt: skip
    for one in built.resistors:
        if one.place == "lead":
            yield Finding(
                SUBJECT, "stop", f"{one.owner}.{one.pin}",
                f"a resistor of {one.ohm:g} Ω is soldered into its lead",
                1.0, 0.0, "joints", "take a part that has its resistor on its board", _SETTING,
            )  # fmt: skip


def _form_without(built: BuiltTrain, owner: str) -> str:
    """Return the form of a part that is made for plugging, with its room; or what else to do."""
    placement = built.placement(owner)
    if placement is None:
        return "take a connector pair, or have it soldered"
    name = f"{stem_of(placement.part.id)}-pins"
    other = built.train.catalogue.get(name)
    if other is not None and name != placement.part.id and all(pin.joint != "solder" for pin in other.pins):
        mine, its = _room(placement.part), _room(other)
        more = ", ".join(f"{b - a:+.1f}" for a, b in zip(mine, its, strict=True))
        size = " × ".join(f"{edge:.1f}" for edge in its)
        return f"take {name}: with its sockets it wants {size} mm, that is {more} mm along x, y and z"
    return "no form of it in the catalogue does without: have it soldered, or take another part"


def _room(part: Part) -> Vec:
    """Return the size of a part with the sockets or leads at its pins."""
    leads = [entry.solid for entry in part.clearances if entry.needed == "always" and entry.kind == "lead"]
    return bounds_of((*part.envelope, *leads)).size
