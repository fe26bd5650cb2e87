"""Trains of catalogue parts with the nets that are usual for them, without a place for any."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace

from fitplan.files.usual_nets import usual_nets
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Part
from fitplan.model.train import Train
from tests.packing.small_trains import hollow, train_of


def wired_as_usual(parts: Mapping[str, Part]) -> Train:
    """Return a train with these parts and their usual nets."""
    nets = tuple(
        Net(net.name, net.role, tuple(PinRef(*join.rsplit(".", 1)) for join in net.joins))
        for net in usual_nets({name: [part] for name, part in parts.items()})
    )
    needs = tuple(Need(name, (part,)) for name, part in parts.items())
    return replace(train_of((hollow("van", 20, 8, 12),), needs), nets=nets, catalogue=dict(parts))


_SENSIBLE = (
    ("cells-18650-1", "regulator-step-up-5v"),
    ("cells-18650-1-protected", "regulator-step-up-down-5v"),
    ("pouch-103450", "regulator-step-up-5v"),
    ("cells-aa-2-stack", "regulator-step-up-5v-tiny"),
    ("cells-aa-6-stack", "regulator-step-down-5v-tiny"),
    ("cells-18650-2", "regulator-linear-5v"),
    ("bank-stick", ""),
)
"""Supplies, and what makes 5 V of them."""
_CHARGED = ("cells-18650-1", "cells-18650-1-protected", "pouch-103450")
_FURTHER = ("ranger", "sensor", "lamp", "lamp", "emitter", "sounder", "display")


def drawn(seed: int, catalogue: Mapping[str, Part]) -> dict[str, Part]:
    """Draw parts for a train; in every third they need not suit one another."""
    dice = random.Random(seed)
    families: dict[str, list[str]] = {}
    for one in catalogue.values():
        families.setdefault(one.family, []).append(one.id)
    if seed % 3:
        supply, lift = dice.choice(_SENSIBLE)
        charged, brain = supply in _CHARGED, dice.choice(["controller-compact-5v", "controller-small-5v"])
    else:
        supply = dice.choice([one for name in ("cells", "pouch", "bank") for one in families[name]])
        lift, charged = dice.choice(["", *families["regulator"]]), True
        brain = dice.choice(families["controller"])
    chosen = {"supply": supply, "brain": brain} | ({"lift": lift} if lift else {})
    if charged and dice.random() < 0.5:
        chosen["charger"] = dice.choice(["charger-protected", "charger-protected-gentle", "charger-plain"])
        if dice.random() < 0.3:
            chosen["coil"] = dice.choice(families["coil"])
    if dice.random() < 0.6:
        chosen["switch"] = dice.choice(families["switch"])
    for number, family in enumerate(_FURTHER):
        if dice.random() < 0.4:
            chosen[f"{family} {number}"] = dice.choice(families[family])
    return {name: catalogue[one] for name, one in chosen.items()}
