"""The nets of a train file: whether their pins exist, and what they ask of the parts at their ends."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from functools import partial
from typing import TypeAlias

from fitplan.errors import nearest_name
from fitplan.files.choice import Demand, other_rail, pins_meant
from fitplan.files.document import Block, Row, Spot, Text
from fitplan.files.entries import Collector
from fitplan.files.fields import one_of_phrase
from fitplan.files.look_up import Reading, parts_asked, tell_unknown, vehicle_named
from fitplan.files.need_entries import NeedEntry
from fitplan.files.train_file import NetEntry, TrainFile
from fitplan.files.usual_kinds import otherwise_wired
from fitplan.files.usual_nets import usual_nets
from fitplan.files.usual_owners import NotUsualError, UsualNet
from fitplan.model.electrical import Bank, CellPack, Charger, Lead, Regulator
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import PIN_ROLES, Can, Part, Pin
from fitplan.model.vehicle import BuiltIn, built_in_name

PINS = "pins: [{name: plus, role: supply, at: [96, 20, 38.4], exit: up}]"
"""How something built in is given a pin, told where it has none."""


UsualOf: TypeAlias = Callable[[Mapping[str, list[Part]]], tuple[UsualNet, ...]]
"""What gives the usual nets of some parts for each need."""


def pin_ref(text: str) -> PinRef:
    """Return the owner and the pin of ``owner.pin``; the last dot parts them."""
    owner, _, pin = text.rpartition(".")
    return PinRef(str(owner.strip()), str(pin.strip()))


def _built_in_named(owner: Text, reading: Reading) -> BuiltIn | None:
    named = built_in_name(owner)
    if named is None:
        return None
    vehicle_name, name = named
    spot = owner.spot
    vehicle = vehicle_named(Text(vehicle_name, spot), reading)
    if vehicle is None:
        return None
    for built in vehicle.built_in:
        if built.name == name:
            return built
    names = [item.name for item in vehicle.built_in]
    tell_unknown("built-in thing", Text(name, spot), names, reading, of=vehicle_name)
    return None


def check_nets(nets: list[NetEntry], choices: Mapping[str, list[Part]], reading: Reading) -> None:
    """Report nets of one pin, pins that are not there, and pins that are joined twice.

    Parameters
    ----------
    choices
        For each need the parts that may serve it, whatever they can do.
    """
    used: dict[PinRef, tuple[NetEntry, Text]] = {}
    for net in nets:
        if len(net.joins) < 2:
            reading.collector.add(
                net.spot, f"one pin in the net {str(net.name)!r}", "at least two pins to join"
            )
        for text in net.joins:
            ref = pin_ref(text)
            owner = Text(ref.owner, text.spot)
            if built_in_name(ref.owner):
                built = _built_in_named(owner, reading)
                if built is not None:
                    _check_built_in_pin(ref, text.spot, built, reading)
            elif choices and ref.owner not in choices:
                known = [*choices, *_built_in_names(reading)]
                tell_unknown("need or built-in thing", owner, known, reading)
            elif choices.get(ref.owner):
                _check_pin(ref, text.spot, choices[ref.owner], reading, _giving(net, choices))
            if ref in used and (ref.pin != "*" or used[ref][0] is net):
                other, first = used[ref]
                expected = "each pin once in a net" if other is net else "each pin in one net"
                found = f"{str(text)!r} again"
                place = f"the net {str(other.name)!r} joins it in line {first.spot.line}"
                reading.collector.add(text.spot, found, expected, place)
            used.setdefault(ref, (net, text))


def with_usual_nets(
    entry: TrainFile,
    document: Block,
    choices: Mapping[str, list[Part]],
    reading: Reading,
    built: Collection[tuple[str, str]],
) -> list[NetEntry]:
    """Return the nets that are written, with the pins that join them as is usual, and the other usual nets.

    ``built`` holds need and part of what is built in. Where they do not follow from all parts of a choice
    together, only those that are wired alike stay to choose from. A mistake where they do not follow from
    these either. Only those that are written where a need was left out for a mistake of its own: nothing
    follows from what is not known.
    """
    asked = document.get("needs")
    if not all(choices.values()) or (isinstance(asked, Row) and len(asked) > len(entry.needs)):
        return entry.nets
    spot = document.key_spots.get("usual nets", document.spot)
    usual = usual_of(entry, reading)
    try:
        found = usual(choices)
    except NotUsualError as error:
        alike = _wired_alike(choices, usual, built)
        if alike is None:
            reading.collector.add(spot, str(error), f"{error.expected}, or the nets written out in `nets`")
            return entry.nets
        reading.only, found = alike
    more: dict[str, list[Text]] = {}
    for net in found:
        if net.written:
            more.setdefault(net.name, []).extend(Text(join, spot) for join in net.joins)
    return [
        *(net.model_copy(update={"joins": [*net.joins, *more.get(str(net.name), [])]}) for net in entry.nets),
        *(
            NetEntry.model_construct(
                name=Text(net.name, spot),
                role=net.role,
                joins=[Text(join, spot) for join in net.joins],
                style=None,
                current=0.0,
                lead=Text(net.lead, spot) if net.lead else None,
            )
            for net in found
            if not net.written
        ),
    ]


def _wired_alike(
    choices: Mapping[str, list[Part]], usual: UsualOf, built: Collection[tuple[str, str]]
) -> tuple[Mapping[str, frozenset[str]], tuple[UsualNet, ...]] | None:
    """Return the first of the ways to keep parts that are wired alike, and their nets; None without any."""
    for only in otherwise_wired(choices, usual, built):
        with suppress(NotUsualError):
            return only, usual(
                {
                    name: [part for part in some if part.id in only.get(name, (part.id,))]
                    for name, some in choices.items()
                }
            )
    return None


def usual_of(entry: TrainFile, reading: Reading) -> UsualOf:
    """Return what gives the usual nets of a train file with some parts for each need."""
    written = [
        Net(str(net.name), net.role, tuple(pin_ref(text) for text in net.joins), lead=str(net.lead or ""))
        for net in entry.nets
    ]
    motors, homes = _motors(entry, reading), {str(need.name): _homes(need, entry) for need in entry.needs}
    return partial(usual_nets, written=written, motors=motors, leads=_leads(reading), homes=homes)


def _homes(need: NeedEntry, entry: TrainFile) -> frozenset[str]:
    """Return the vehicles that a need may go into."""
    for place in (need.looks, need.sits, need.at):
        if place is not None:
            return frozenset({str(place.vehicle)})
    vehicles = [str(item.name) for item in entry.vehicles]
    return frozenset(str(name) for name in need.in_ or vehicles)


def _motors(entry: TrainFile, reading: Reading) -> dict[str, BuiltIn]:
    bodies = [(str(item.name), reading.vehicles.get(item.name)) for item in entry.vehicles]
    return {
        f"{name}/{built.name}": built
        for name, vehicle in bodies
        if vehicle is not None
        for built in vehicle.built_in
        if built.kind == "motor"
    }


def _leads(reading: Reading) -> list[Part]:
    return [part for part in reading.catalogue.values() if part.figure(Lead) is not None]


def _built_in_names(reading: Reading) -> list[str]:
    return [
        f"{name}/{built.name}"
        for name, vehicle in reading.vehicles.items()
        if vehicle is not None
        for built in vehicle.built_in
    ]


def _check_built_in_pin(ref: PinRef, spot: Spot, built: BuiltIn, reading: Reading) -> None:
    """Report a pin that something built in does not have, and where it is to be given when there is none."""
    names = [pin.name for pin in built.pins]
    known = ref.pin in names or any(pin.role == ref.pin for pin in built.pins)
    if known or ref.pin in reading.collector.broken:
        return
    vehicle = ref.owner.split("/")[0]
    reading.collector.add(
        spot,
        f"the unknown pin {ref.pin!r} of {ref.owner!r}",
        f"a pin: {one_of_phrase(names)}" if names else f"pins of it in the file of {vehicle!r}: {PINS}",
        nearest_name(ref.pin, names),
    )


def _giving(net: NetEntry, choices: Mapping[str, list[Part]]) -> str:
    """Return the end of a net that feeds it, as far as its parts tell; empty where none does."""
    for text in net.joins:
        ref = pin_ref(text)
        for part in choices.get(ref.owner, ()):
            gives = any(part.figure(kind) is not None for kind in (CellPack, Bank, Regulator, Charger))
            if gives and any(pin.role == "plus" for pin in pins_meant(part, ref.pin)):
                return str(text)
    return ""


def _check_pin(ref: PinRef, spot: Spot, parts: list[Part], reading: Reading, giving: str) -> None:
    """Report a pin that none of the parts has that may serve a need.

    Parameters
    ----------
    giving
        The end of the net that feeds it, if any.
    """
    if ref.pin == "*":
        if not any(pin.can for part in parts for pin in part.pins):
            expected = "the name of a pin, since nothing can be chosen there"
            reading.collector.add(spot, f"'*' for {ref.owner!r}, whose pins do one thing each", expected)
        return
    if not any(pins_meant(part, ref.pin) for part in parts):
        names = sorted({pin.name for part in parts for pin in part.pins})
        roles = sorted({pin.role for part in parts for pin in part.pins}, key=PIN_ROLES.index)
        shown = names if len(names) <= 12 else [*names[:12], "…"]
        hint = nearest_name(ref.pin, [*names, *roles])
        if other := other_rail(parts[0], ref.pin):
            own = "raw" if giving and "raw" in roles else "3v3" if "3v3" in roles else "5v"
            why = (
                f"as {giving} feeds this net" if own == "raw" else "and feed what wants other volts elsewhere"
            )
            hint = f"{parts[0].id} is {other}: write {ref.owner}.{own}, {why}"
        reading.collector.add(
            spot,
            f"the unknown pin {ref.pin!r} of {ref.owner!r}",
            f"a pin ({', '.join(shown)}), a role ({', '.join(roles)}) or *" if names else "a part with pins",
            hint,
        )


def demand_on(name: str, need: NeedEntry, entry: TrainFile, reading: Reading) -> Demand:
    """Return what the nets and the need itself ask of the part that serves it."""
    pins: list[str] = []
    chosen: list[frozenset[Can]] = []
    for net in entry.nets:
        refs = [pin_ref(text) for text in net.joins]
        for ref in refs:
            if ref.owner != name:
                continue
            if ref.pin != "*":
                pins.append(ref.pin)
                continue
            wants: set[Can] = set()
            for other in refs:
                if other.owner != name and other.pin != "*":
                    wants |= _wanted(other, entry, reading)
            chosen.append(frozenset(wants))
    extra = tuple(need.choose.pins) if need.choose is not None else ()
    return Demand(tuple(pins), tuple(chosen), extra)


def _wanted(ref: PinRef, entry: TrainFile, reading: Reading) -> frozenset[Can]:
    """Return what a net's end wants of the pin at the other end: what all its candidates agree on."""
    named = built_in_name(ref.owner)
    if named is not None:
        vehicle_name, name = named
        vehicle = reading.vehicles.get(vehicle_name)
        built = vehicle.built_in if vehicle is not None else ()
        found: list[Pin] = [
            pin for item in built if item.name == name for pin in item.pins if pin.name == ref.pin
        ]
    else:
        need = next((item for item in entry.needs if item.name == ref.owner), None)
        parts = _quiet_parts(need, reading) if need is not None else []
        found = [pin for part in parts for pin in pins_meant(part, ref.pin)]
    return frozenset.intersection(*(pin.wants for pin in found)) if found else frozenset()


def _quiet_parts(need: NeedEntry, reading: Reading) -> list[Part]:
    silent = Reading(Collector(reading.collector.path, []), reading.catalogue, reading.declared)
    return parts_asked(need, silent)
