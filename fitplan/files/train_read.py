"""From a train file to a `Train`: vehicles and parts are looked up, and what hangs together is checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from fitplan.errors import Mistake, nearest_name
from fitplan.files.choice import Demand, Wish, candidates, pins_meant, unmet
from fitplan.files.document import Block, Spot, Text, Value, parse_document, read_document
from fitplan.files.fields import EMPTY, Collector, check_once, one_of_phrase, validate_top
from fitplan.files.train_file import NeedEntry, NetEntry, TrainFile
from fitplan.files.vehicle_read import vehicle_of
from fitplan.model.electrical import Conductor, Connector
from fitplan.model.part import PIN_ROLES, Can, Part, Pin
from fitplan.model.train import (
    Choice,
    Need,
    Net,
    PinRef,
    Running,
    Track,
    Train,
    TrainVehicle,
    Weights,
    Wiring,
)
from fitplan.model.vehicle import BuiltIn, Vehicle

_STAND_INS: dict[str, Value] = {
    **parse_document("{train: a train, running: {speed: 1}}", Path(), []),
    "vehicles": EMPTY,
    "needs": EMPTY,
}
"""What is read on with where a key that must be there holds a mistake."""


@dataclass
class _Reading:
    """What is known while a train file is read.

    ``vehicles`` holds None for one whose file has mistakes: what refers into it is then not checked.
    """

    collector: Collector
    catalogue: Mapping[str, Part]
    declared: frozenset[str]
    vehicles: dict[str, Vehicle | None] = field(default_factory=dict)


def train_of(
    document: Block,
    path: Path,
    catalogue: Mapping[str, Part],
    declared: frozenset[str],
    mistakes: list[Mistake],
) -> Train | None:
    """Return the train that a document describes, or None after its mistakes went to the list.

    Parameters
    ----------
    catalogue
        The parts that it may refer to.
    declared
        Ids that part files hold, those with mistakes included: a reference to one is no second mistake.
    """
    before = len(mistakes)
    reading = _Reading(Collector(path, mistakes), catalogue, declared)
    entry = validate_top(TrainFile, document, reading.collector, _STAND_INS)
    if entry is None:
        return None
    check_once(reading.collector, "vehicle", [item.name for item in entry.vehicles])
    check_once(reading.collector, "need", [item.name for item in entry.needs])
    check_once(reading.collector, "net", [item.name for item in entry.nets])
    _read_vehicles(entry, path, reading)
    _check_couplings(entry, reading)
    for need in entry.needs:
        _check_places(need, reading)
    choices = {str(need.name): _parts_asked(need, reading) for need in entry.needs}
    _check_nets(entry.nets, choices, reading)
    needs = [_need(item, entry, choices[str(item.name)], reading) for item in entry.needs]
    wiring = _wiring(entry, reading)
    if len(mistakes) > before:
        return None
    running, track, weights = entry.running, entry.track, entry.weights
    return Train(
        name=str(entry.train),
        vehicles=tuple(
            TrainVehicle(str(item.name), vehicle, item.turned)
            for item in entry.vehicles
            if (vehicle := reading.vehicles[item.name]) is not None
        ),
        needs=tuple(need for need in needs if need is not None),
        nets=tuple(
            Net(
                str(item.name),
                item.role,
                tuple(_pin_ref(ref) for ref in item.joins),
                item.style or entry.wiring.style,
                item.current,
            )
            for item in entry.nets
        ),
        track=Track(
            radius=track.radius,
            reverse_curve=track.reverse_curve,
            gradient_percent=track.gradient,
            gauge=track.gauge,
            structure_half_width=track.structure_half_width,
            structure_height=track.structure_height,
        ),
        running=Running(
            speed=running.speed,
            deceleration=running.deceleration,
            reading_interval_s=running.reading_interval,
            command_delay_s=running.command_delay,
            temperature_c=running.temperature,
            trip_distance=running.trip_distance,
            margin=running.margin,
            hours=running.hours,
            push_pull=running.push_pull,
            reads=running.reads,
        ),
        weights=Weights(**{name: getattr(weights, name) for name in type(weights).model_fields}),
        wiring=wiring,
        may_add_wagon=entry.may_add_wagon,
        catalogue=dict(catalogue),
        source=path.name,
    )


# --- vehicles ----------------------------------------------------------------------------------------------


def _read_vehicles(entry: TrainFile, path: Path, reading: _Reading) -> None:
    files: dict[Path, Vehicle | None] = {}
    for item in entry.vehicles:
        file = path.parent / str(item.file)
        if file not in files:
            found: list[Mistake] = []
            document = read_document(file, found)
            if document is None and len(found) == 1 and not found[0].line:
                # The file is missing or no text: the mistake stands where the train file names it.
                only = found[0]
                reading.collector.add(
                    item.file.spot, f"{str(item.file)!r}: {only.found}", only.expected, only.hint
                )
                files[file] = None
            else:
                files[file] = vehicle_of(document, file, found) if document is not None else None
                reading.collector.mistakes.extend(found)
        reading.vehicles[str(item.name)] = files[file]


def _check_couplings(entry: TrainFile, reading: _Reading) -> None:
    for ahead, behind in zip(entry.vehicles, entry.vehicles[1:], strict=False):
        for item, other, rear in ((ahead, behind, True), (behind, ahead, False)):
            vehicle = reading.vehicles[item.name]
            end = "rear" if rear != item.turned else "front"
            if vehicle is not None and all(coupling.end != end for coupling in vehicle.couplings):
                reading.collector.add(
                    item.spot,
                    f"{str(item.name)!r} coupled to {str(other.name)!r} without a coupling at its {end} end",
                    f"a coupling with 'end: {end}' in {item.file}",
                )


def _vehicle_named(name: Text, reading: _Reading) -> Vehicle | None:
    """Return a vehicle; None when there is none, which is reported, or when its file has mistakes."""
    if name not in reading.vehicles:
        if reading.vehicles:
            _unknown("vehicle", name, reading.vehicles, reading)
        return None
    return reading.vehicles[name]


def _unknown(kind: str, name: Text, known: Mapping[str, object] | list[str], reading: _Reading) -> None:
    if name in reading.collector.broken:
        return
    names = [str(item) for item in known]
    expected = f"a {kind}: {one_of_phrase(names)}" if names else f"a {kind}, but there is none"
    reading.collector.add(name.spot, f"the unknown {kind} {str(name)!r}", expected, nearest_name(name, names))


def _check_places(need: NeedEntry, reading: _Reading) -> None:
    for name in need.in_ or ():
        _vehicle_named(name, reading)
    if need.looks is not None:
        vehicle = _vehicle_named(need.looks.vehicle, reading)
        if vehicle is not None and all(window.name != need.looks.window for window in vehicle.windows):
            _unknown("window", need.looks.window, [window.name for window in vehicle.windows], reading)
    if need.sits is not None:
        vehicle = _vehicle_named(need.sits.vehicle, reading)
        if vehicle is not None:
            built = next((item for item in vehicle.built_in if item.name == need.sits.on), None)
            if built is None:
                _unknown("built-in thing", need.sits.on, [item.name for item in vehicle.built_in], reading)
            elif all(face.name != need.sits.face for face in built.faces):
                _unknown("face", need.sits.face, [face.name for face in built.faces], reading)
    if need.at is not None:
        _vehicle_named(need.at.vehicle, reading)
    bound = [place.vehicle for place in (need.looks, need.sits, need.at) if place is not None]
    for name in bound:
        if name != bound[0]:
            reading.collector.add(
                name.spot, f"the vehicle {str(name)!r}", f"{str(bound[0])!r}, where the same need is bound to"
            )
        if need.in_ is not None and name not in need.in_ and name in reading.vehicles:
            names = one_of_phrase([repr(str(item)) for item in need.in_])
            reading.collector.add(name.spot, f"the vehicle {str(name)!r}", f"{names}, as in the need's 'in'")


# --- parts -------------------------------------------------------------------------------------------------


def _part_named(name: Text, reading: _Reading) -> Part | None:
    part = reading.catalogue.get(str(name))
    if part is None and name not in reading.declared:
        near = nearest_name(name, reading.catalogue)
        hint = near or "`fitplan parts` lists them"
        reading.collector.add(name.spot, f"the unknown part {str(name)!r}", "a part of the catalogue", hint)
    return part


def _parts_asked(need: NeedEntry, reading: _Reading) -> list[Part]:
    """Return the parts that a need names or whose family it names; what they must do is not looked at yet."""
    if need.part is not None:
        part = _part_named(need.part, reading)
        return [part] if part is not None else []
    assert need.choose is not None
    families = need.choose.family
    if need.choose.parts is not None:
        check_once(reading.collector, "part", need.choose.parts)
        named = [_part_named(name, reading) for name in need.choose.parts]
        parts = [part for part in named if part is not None]
    else:
        parts = list(reading.catalogue.values())
    return [part for part in parts if not families or part.family in families]


# --- nets --------------------------------------------------------------------------------------------------


def _pin_ref(text: str) -> PinRef:
    owner, _, pin = text.rpartition(".")
    return PinRef(str(owner.strip()), str(pin.strip()))


def _built_in_named(owner: Text, reading: _Reading) -> BuiltIn | None:
    vehicle_name, _, name = owner.partition("/")
    spot = owner.spot
    vehicle = _vehicle_named(Text(vehicle_name, spot), reading)
    if vehicle is None:
        return None
    for built in vehicle.built_in:
        if built.name == name:
            return built
    _unknown("built-in thing", Text(name, spot), [item.name for item in vehicle.built_in], reading)
    return None


def _check_nets(nets: list[NetEntry], choices: Mapping[str, list[Part]], reading: _Reading) -> None:
    used: dict[PinRef, tuple[NetEntry, Text]] = {}
    for net in nets:
        if len(net.joins) < 2:
            reading.collector.add(
                net.spot, f"one pin in the net {str(net.name)!r}", "at least two pins to join"
            )
        for text in net.joins:
            ref = _pin_ref(text)
            owner = Text(ref.owner, text.spot)
            if "/" in ref.owner:
                built = _built_in_named(owner, reading)
                if built is not None:
                    names = [pin.name for pin in built.pins]
                    if ref.pin not in names and all(pin.role != ref.pin for pin in built.pins):
                        _unknown("pin", Text(ref.pin, text.spot), names, reading)
            elif choices and ref.owner not in choices:
                known = [*choices, *_built_in_names(reading)]
                _unknown("need or built-in thing", owner, known, reading)
            elif choices.get(ref.owner):
                _check_pin(ref, text.spot, choices[ref.owner], reading)
            if ref in used and (ref.pin != "*" or used[ref][0] is net):
                other, first = used[ref]
                expected = "each pin once in a net" if other is net else "each pin in one net"
                found = f"{str(text)!r} again"
                place = f"the net {str(other.name)!r} joins it in line {first.spot.line}"
                reading.collector.add(text.spot, found, expected, place)
            used.setdefault(ref, (net, text))


def _built_in_names(reading: _Reading) -> list[str]:
    return [
        f"{name}/{built.name}"
        for name, vehicle in reading.vehicles.items()
        if vehicle is not None
        for built in vehicle.built_in
    ]


def _check_pin(ref: PinRef, spot: Spot, parts: list[Part], reading: _Reading) -> None:
    """Report a pin that none of the parts has that may serve a need."""
    if ref.pin == "*":
        if not any(pin.can for part in parts for pin in part.pins):
            expected = "the name of a pin, since nothing can be chosen there"
            reading.collector.add(spot, f"'*' for {ref.owner!r}, whose pins do one thing each", expected)
        return
    if not any(pins_meant(part, ref.pin) for part in parts):
        names = sorted({pin.name for part in parts for pin in part.pins})
        roles = sorted({pin.role for part in parts for pin in part.pins}, key=PIN_ROLES.index)
        shown = names if len(names) <= 12 else [*names[:12], "…"]
        reading.collector.add(
            spot,
            f"the unknown pin {ref.pin!r} of {ref.owner!r}",
            f"a pin ({', '.join(shown)}), a role ({', '.join(roles)}) or *" if names else "a part with pins",
            nearest_name(ref.pin, [*names, *roles]),
        )


def _demand_on(name: str, need: NeedEntry, entry: TrainFile, reading: _Reading) -> Demand:
    """Return what the nets and the need itself ask of the part that serves it."""
    pins: list[str] = []
    chosen: list[frozenset[Can]] = []
    for net in entry.nets:
        refs = [_pin_ref(text) for text in net.joins]
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


def _wanted(ref: PinRef, entry: TrainFile, reading: _Reading) -> frozenset[Can]:
    """Return what a net's end wants of the pin at the other end: what all its candidates agree on."""
    if "/" in ref.owner:
        vehicle_name, _, name = ref.owner.partition("/")
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


def _quiet_parts(need: NeedEntry, reading: _Reading) -> list[Part]:
    silent = _Reading(Collector(reading.collector.path, []), reading.catalogue, reading.declared)
    return _parts_asked(need, silent)


# --- needs and wiring --------------------------------------------------------------------------------------


def _need(item: NeedEntry, entry: TrainFile, asked: list[Part], reading: _Reading) -> Need | None:
    demand = _demand_on(str(item.name), item, entry, reading)
    if item.part is not None:
        found = asked
        if found:
            _check_named_part(item, found[0], demand, reading)
    else:
        found = _choose(item, asked, demand, reading)
    if not found:
        return None
    choose = item.choose
    return Need(
        name=str(item.name),
        candidates=tuple(found),
        choice=Choice(
            family=" or ".join(choose.family or sorted({part.family for part in found})),
            parts=tuple(str(name) for name in choose.parts or ()),
            pins=tuple(choose.pins),
            out_v=choose.volts or 0.0,
            min_hours=choose.hours or 0.0,
        )
        if choose is not None
        else None,
        vehicles=tuple(str(name) for name in item.in_ or ()),
        looks=(str(item.looks.vehicle), str(item.looks.window)) if item.looks is not None else None,
        sits=(str(item.sits.vehicle), str(item.sits.on), str(item.sits.face))
        if item.sits is not None
        else None,
        pinned=(str(item.at.vehicle), item.at.pose, item.at.offset) if item.at is not None else None,
        duty=item.duty,
    )


def _check_named_part(item: NeedEntry, part: Part, demand: Demand, reading: _Reading) -> None:
    """Report what a part that was asked by name cannot do."""
    assert item.part is not None
    spot = item.part.spot
    # Pins that it does not have, and * where it has none to choose from, are reported with the nets.
    chosen = demand.chosen if any(pin.can for pin in part.pins) else ()
    known = Demand(tuple(name for name in demand.pins if pins_meant(part, name)), chosen, demand.extra)
    if lacking := unmet(part, known):
        reading.collector.add(
            spot, f"the part {part.id!r}, which lacks {lacking}", "a part with what the nets ask for"
        )
    if item.looks is not None and part.mount.looks is None:
        reading.collector.add(
            spot, f"the part {part.id!r}, which does not look out", "a part whose 'mount' has 'looks'"
        )
    if item.sits is not None and part.mount.sits is None:
        reading.collector.add(
            spot, f"the part {part.id!r}, which sits on nothing", "a part whose 'mount' has 'sits'"
        )


def _choose(item: NeedEntry, asked: list[Part], demand: Demand, reading: _Reading) -> list[Part]:
    assert item.choose is not None
    choose = item.choose
    if choose.parts is not None and not asked and any(name not in reading.catalogue for name in choose.parts):
        return []
    # As with a part that is asked by name: what no part can do at all is reported with the nets.
    known = Demand(
        tuple(name for name in demand.pins if any(pins_meant(part, name) for part in asked)),
        demand.chosen if any(pin.can for part in asked for pin in part.pins) else (),
        demand.extra,
    )
    wish = Wish(
        families=tuple(choose.family or ()),
        parts=tuple(str(name) for name in choose.parts or ()),
        volts=choose.volts or 0.0,
        demand=known,
        looks=item.looks is not None,
        sits=item.sits is not None,
    )
    found, reason = candidates(reading.catalogue.values(), wish)
    if not found:
        expected = "a choice that some part of the catalogue meets"
        reading.collector.add(
            choose.spot, f"a choice for {str(item.name)!r} that no part meets", expected, reason
        )
    return found


def _wiring(entry: TrainFile, reading: _Reading) -> Wiring:
    given, usual = entry.wiring, Wiring()
    spot = given.spot if given.spot.line else entry.spot
    signal = given.signal_wire or Text(usual.signal_wire, spot)
    power = given.power_wire or Text(usual.power_wire, spot)
    for name in (signal, power):
        part = _part_named(name, reading)
        if part is not None and part.figure(Conductor) is None:
            reading.collector.add(name.spot, f"{str(name)!r}, which is no wire", "a part of the family wire")
    connector = given.coupling_connector
    if connector is not None:
        part = _part_named(connector, reading)
        if part is not None and part.figure(Connector) is None:
            found = f"{str(connector)!r}, which is no connector"
            reading.collector.add(connector.spot, found, "a part of the family connector")
    return Wiring(str(signal), str(power), given.style, str(connector or ""))
