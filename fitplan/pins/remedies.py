"""What mends a clash of pins, cheapest first; each remedy is tried by matching again before it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from fitplan.circuit.net_ends import ends_of, parts_of
from fitplan.model.electrical import Controller, Ranger
from fitplan.model.part import Can, Part
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch, match_wants
from fitplan.pins.wants import PinRequest, controllers_of, signal_pins, wants_of

RemedyKind: TypeAlias = Literal["share trigger", "read one ranger", "expander", "other controller"]

EXPANDER_PINS = 8
"""Pins of a common port expander on the bus: common practice, no source."""


@dataclass(frozen=True)
class Remedy:
    """One way out of a clash.

    ``effort`` orders them: 1 a solder joint, 2 a ranger that is not read, 3 one more part, 4 and up another
    controller (4 for a candidate of the need, 5 for any of the catalogue).  ``part`` is what to use.
    """

    kind: RemedyKind
    controller: str
    text: str
    effort: int
    part: Part | None = None


def find_remedies(train: Train, chosen: Mapping[str, Part], match: PinMatch) -> tuple[Remedy, ...]:
    """Return the ways out of the clashes of a match that do work, cheapest first."""
    found: list[Remedy] = []
    for name, part in controllers_of(train, chosen).items():
        wants = wants_of(train, chosen, name)
        if not any(want.controller == name for want in match.unmatched):
            continue
        found.extend(_share_trigger(train, chosen, name, part, wants))
        found.extend(_read_one(train, chosen, name, part, wants))
        found.extend(_expander(train, chosen, name, part, wants))
        found.extend(_other_controllers(train, chosen, name, part))
    return tuple(sorted(found, key=lambda remedy: remedy.effort))


def _rangers(train: Train, chosen: Mapping[str, Part]) -> dict[str, Part]:
    return {name: part for name, part in parts_of(train, chosen).items() if part.figure(Ranger) is not None}


def _owners(want: PinRequest) -> set[str]:
    return {label.rpartition(".")[0] for label in want.serves}


def _share_trigger(
    train: Train, chosen: Mapping[str, Part], name: str, part: Part, wants: tuple[PinRequest, ...]
) -> list[Remedy]:
    rangers = _rangers(train, chosen)
    triggers = [
        want
        for want in wants
        if want.abilities == {"output"} and want.nets and _owners(want) and _owners(want) <= set(rangers)
    ]
    if len(triggers) < 2:
        return []
    others = tuple(want for want in wants if not any(want is trigger for trigger in triggers))
    nets = tuple(net for want in triggers for net in want.nets)
    shared = replace(triggers[0], nets=nets, serves=tuple(s for want in triggers for s in want.serves))
    if not match_wants(name, part, (shared, *others)).complete:
        return []
    joined = " and ".join(nets)
    return [Remedy("share trigger", name, f"join {joined} into one net: one pin triggers all rangers", 1)]


def _read_one(
    train: Train, chosen: Mapping[str, Part], name: str, part: Part, wants: tuple[PinRequest, ...]
) -> list[Remedy]:
    """Leave out the ranger at the far end: only the one in the direction of travel is read at a time."""
    served = [
        ranger for ranger in _rangers(train, chosen) if any(_owners(want) == {ranger} for want in wants)
    ]
    if len(served) < 2:
        return []
    for dropped in reversed(served):
        rest = tuple(want for want in wants if _owners(want) != {dropped})
        if match_wants(name, part, rest).complete:
            text = f"read only the ranger in the direction of travel: leave the nets of {dropped} unwired"
            return [Remedy("read one ranger", name, text, 2)]
    return []


def _expander(
    train: Train, chosen: Mapping[str, Part], name: str, part: Part, wants: tuple[PinRequest, ...]
) -> list[Remedy]:
    """Move plain outputs that need no exact timing to an expander on the bus."""
    rangers = set(_rangers(train, chosen))
    movable = [
        want
        for want in wants
        if want.abilities == {"output"} and not want.pin and want.nets and not _owners(want) & rangers
    ]
    bus = tuple(
        PinRequest(name, ("bus",), frozenset({line}), (f"expander.{line}",))
        for line in _BUS_LINES
        if not any(line in want.abilities for want in wants)
    )
    moved = movable[:EXPANDER_PINS]
    rest = tuple(want for want in wants if not any(want is one for one in moved))
    if not moved or not match_wants(name, part, (*rest, *bus)).complete:
        return []
    nets = ", ".join(net for want in moved for net in want.nets)
    text = f"put {nets} on a port expander with {EXPANDER_PINS} pins at the data and clock pins"
    return [Remedy("expander", name, text, 3)]


_BUS_LINES: tuple[Can, ...] = ("data", "clock")


def _other_controllers(train: Train, chosen: Mapping[str, Part], name: str, part: Part) -> list[Remedy]:
    need = train.need(name)
    candidates = {one.id: one for one in need.candidates}
    every = {**candidates, **train.catalogue}
    found: list[Remedy] = []
    for other in every.values():
        if other.id == part.id or other.figure(Controller) is None or not _keeps_joins(train, name, other):
            continue
        wants = wants_of(train, {**chosen, name: other}, name)
        if match_wants(name, other, wants).complete:
            effort = 4 if other.id in candidates else 5
            text = f"use {other.name} ({other.id}): {len(signal_pins(other))} signal pins"
            found.append(Remedy("other controller", name, text, effort, other))
    found.sort(key=lambda remedy: (remedy.effort, remedy.part.bounds.volume if remedy.part else 0.0))
    return found[:3]


def _keeps_joins(train: Train, name: str, other: Part) -> bool:
    """Return whether every net that ends at the controller finds a pin on the other one."""
    for net in train.nets:
        for end in ends_of(train, {name: other}, net):
            if end.owner == name and not end.wild and not end.pins:
                return False
    return True
