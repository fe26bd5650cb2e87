"""Trains of catalogue parts with the nets that are usual for them, without a place for any."""

from __future__ import annotations

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
