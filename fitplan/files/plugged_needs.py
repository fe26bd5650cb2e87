"""Nets that a lead as bought makes: whether it fits the sockets, and the parts with it plugged in."""

from __future__ import annotations

from dataclasses import replace

from fitplan.files.document import Text
from fitplan.files.look_up import Reading, part_named
from fitplan.files.train_file import NetEntry
from fitplan.files.train_nets import pin_ref
from fitplan.model.electrical import Lead
from fitplan.model.needed import Need
from fitplan.model.part import Part, Pin
from fitplan.model.plugged import ends_at, plugged


def plugged_needs(
    nets: list[NetEntry], needs: list[Need | None], reading: Reading
) -> tuple[list[Need | None], dict[str, Part]]:
    """Return the needs with leads plugged in, and the parts that they then have, by id.

    A candidate that has no socket for its net's lead is left out; what no candidate can take is a mistake.
    """
    found = list(needs)
    parts: dict[str, Part] = {}
    for net in nets:
        if net.lead is None:
            continue
        lead = part_named(net.lead, reading)
        if lead is None:
            continue
        figures = lead.figure(Lead)
        if figures is None or net.role != "supply" or len(net.joins) != 2:
            what = (
                "which is no lead"
                if figures is None
                else f"in a net of {len(net.joins)} pins of role {net.role}"
            )
            expected = "a lead with USB plugs, in a supply net that joins two sockets"
            reading.collector.add(net.lead.spot, f"{str(net.lead)!r}, {what}", expected)
            continue
        places = [_need_at(found, text) for text in net.joins]
        if any(place is None for place in places):
            continue  # told with the nets
        sides = [
            _pins(found[place], text)
            for place, text in zip(places, net.joins, strict=True)
            if place is not None
        ]
        whole: list[list[Part]] = [[], []]
        for one, one_pin in sides[0]:
            for other, other_pin in sides[1]:
                straight, turned = ends_at(figures, one_pin.socket, other_pin.socket)
                if not straight and not turned:
                    continue
                try:
                    pair = (
                        plugged(one, one_pin, lead, second=not straight),
                        plugged(other, other_pin, lead, second=straight),
                    )
                except ValueError as error:
                    reading.collector.add(
                        net.lead.spot, str(error), "a lead whose plug leaves to a free side"
                    )
                    continue
                for side, part in zip(whole, pair, strict=True):
                    if part not in side:
                        side.append(part)
        if not whole[0]:
            sockets = [
                " or ".join(sorted({pin.socket or "none" for _, pin in side})) or "none" for side in sides
            ]
            reading.collector.add(
                net.lead.spot,
                f"{str(net.lead)!r}, from {figures.first} to {figures.second}",
                "a lead for the sockets at its ends: "
                f"{sockets[0]} at {net.joins[0]}, {sockets[1]} at {net.joins[1]}",
            )
            continue
        for place, side in zip(places, whole, strict=True):
            need = found[place] if place is not None else None
            if place is not None and need is not None:
                found[place] = replace(need, candidates=tuple(side))
                parts.update({part.id: part for part in side})
    return found, parts


def _need_at(needs: list[Need | None], text: Text) -> int | None:
    owner = pin_ref(text).owner
    return next((i for i, need in enumerate(needs) if need is not None and need.name == owner), None)


def _pins(need: Need | None, text: Text) -> list[tuple[Part, Pin]]:
    """Return the candidates of a need, each with the pin that a net names there."""
    name = pin_ref(text).pin
    found = []
    for part in need.candidates if need is not None else ():
        named = [pin for pin in part.pins if pin.name == name] or [
            pin for pin in part.pins if pin.role == name and pin.socket
        ]
        found += [(part, pin) for pin in named[:1]]
    return found
