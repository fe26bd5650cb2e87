"""From a train file to a `Train`: vehicles and parts are looked up, and what hangs together is checked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

from fitplan.errors import Mistake
from fitplan.files.as_built import as_built
from fitplan.files.choice import Demand, Wish, candidates, pins_meant, unmet
from fitplan.files.document import Block, Text, Value, parse_document, read_document, shown
from fitplan.files.entries import EMPTY, Collector, check_once, validate_top
from fitplan.files.fields import one_of_phrase
from fitplan.files.fixed_place import fixed_place, has_socket
from fitplan.files.look_up import Reading, part_named, parts_asked, tell_unknown, vehicle_named
from fitplan.files.measured import measurements_of
from fitplan.files.need_entries import NeedEntry
from fitplan.files.open_ends import with_open_ends
from fitplan.files.operation_entries import RunningEntry
from fitplan.files.plugged_needs import plugged_needs
from fitplan.files.preferences import preferences_of
from fitplan.files.train_file import TrainFile
from fitplan.files.train_nets import check_nets, demand_on, derived_nets, pin_ref
from fitplan.files.train_track import check_standing
from fitplan.files.vehicle_read import vehicle_of
from fitplan.files.zones import check_zones, with_zones
from fitplan.model.as_built import as_measured
from fitplan.model.electrical import Conductor, Connector, Lead
from fitplan.model.needed import Choice, Exchange, Need
from fitplan.model.nets import Net
from fitplan.model.on_hand import OnHand
from fitplan.model.operation import Running, Track
from fitplan.model.part import Part
from fitplan.model.train import Train, TrainVehicle, Weights
from fitplan.model.vehicle import Vehicle
from fitplan.model.wiring import Allowances, Slack, Spool, Wiring

_STAND_INS: dict[str, Value] = {
    **parse_document("{train: a train, running: {speed: 1}}", Path(), []),
    "vehicles": EMPTY,
    "needs": EMPTY,
}
"""What is read on with where a key that must be there holds a mistake."""


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
    reading = Reading(Collector(path, mistakes), catalogue, declared)
    entry = validate_top(TrainFile, document, reading.collector, _STAND_INS)
    if entry is None:
        return None
    measurements = measurements_of(entry, path, reading.collector)
    catalogue = reading.catalogue = measurements.of_parts(catalogue)
    check_once(reading.collector, "vehicle", [item.name for item in entry.vehicles])
    check_once(reading.collector, "need", [item.name for item in entry.needs])
    check_once(reading.collector, "net", [item.name for item in entry.nets])
    _read_vehicles(entry, path, reading)
    reading.vehicles = measurements.of_vehicles(reading.vehicles)
    check_zones(entry, reading)
    _check_couplings(entry, reading)
    check_standing(entry, reading)
    for need in entry.needs:
        _check_places(need, reading)
    names = [str(need.name) for need in entry.needs]
    for name in entry.running.reading_order:
        if name not in names:
            tell_unknown("need", name, names, reading)
    choices = {str(need.name): parts_asked(need, reading) for need in entry.needs}
    if entry.usual_nets:
        entry.nets = [*entry.nets, *derived_nets(entry, document, choices, reading)]
    check_nets(entry.nets, choices, reading)
    needs = [_need(item, entry, choices[str(item.name)], reading) for item in entry.needs]
    for name, _ in entry.owned.parts:
        part_named(name, reading)
    preferences = preferences_of(entry, reading)
    there = as_built(entry.as_built, reading.collector)
    wiring = _wiring(entry, reading)
    needs, with_plugs = plugged_needs(entry.nets, needs, reading)
    running = measurements.of_running(_running(entry.running))
    measurements.of_train([str(item.name) for item in entry.vehicles], names)
    if len(mistakes) > before:
        return None
    track, weights = entry.track, entry.weights
    return Train(
        name=str(entry.train),
        vehicles=with_open_ends(
            [
                TrainVehicle(str(item.name), with_zones(vehicle, item.name, entry.zones), item.turned)
                for item in entry.vehicles
                if (vehicle := reading.vehicles[item.name]) is not None
            ]
        ),
        needs=tuple(need for need in needs if need is not None),
        nets=tuple(
            Net(
                str(item.name),
                item.role,
                tuple(pin_ref(ref) for ref in item.joins),
                item.style or entry.wiring.style,
                item.current,
                str(item.lead or ""),
            )
            for item in entry.nets
        ),
        track=Track(
            radius=track.radius,
            reverse_curve=track.reverse_curve,
            least_straight=track.straight_between,
            gradient_percent=track.gradient,
            gauge=track.gauge,
            structure_half_width=track.structure_half_width,
            structure_height=track.structure_height,
            adhesion=track.adhesion,
        ),
        running=running,
        weights=Weights(**{name: getattr(weights, name) for name in type(weights).model_fields}),
        wiring=wiring,
        owned=OnHand(
            tuple((str(name), count) for name, count in entry.owned.parts), tuple(entry.owned.tools)
        ),
        preferences=preferences,
        may_add_wagon=entry.may_add_wagon,
        may_open=entry.may_open,
        catalogue={**catalogue, **with_plugs},
        source=path.name,
        measured=measurements.measured,
        as_built=as_measured(there, measurements.measured, catalogue),
    )


def _running(running: RunningEntry) -> Running:
    return Running(
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
        reading_order=tuple(str(name) for name in running.reading_order),
        median=running.median,
        frame_interval_s=running.frame_interval,
        lost_frames=running.lost_frames,
        coupling_play=running.coupling_play,
        speed_in_curves=running.speed_in_curves or 0.0,
    )


# --- vehicles ----------------------------------------------------------------------------------------------


def _read_vehicles(entry: TrainFile, path: Path, reading: Reading) -> None:
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
                    item.file.spot, f"{shown(item.file)}: {only.found}", only.expected, only.hint
                )
                files[file] = None
            else:
                files[file] = vehicle_of(document, file, found) if document is not None else None
                reading.collector.mistakes.extend(found)
        reading.vehicles[str(item.name)] = files[file]


def _check_couplings(entry: TrainFile, reading: Reading) -> None:
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


def _check_places(need: NeedEntry, reading: Reading) -> None:
    for name in need.in_ or ():
        vehicle_named(name, reading)
    if need.looks is not None:
        vehicle = vehicle_named(need.looks.vehicle, reading)
        if vehicle is not None and all(window.name != need.looks.window for window in vehicle.windows):
            tell_unknown("window", need.looks.window, [window.name for window in vehicle.windows], reading)
    if need.sits is not None:
        vehicle = vehicle_named(need.sits.vehicle, reading)
        if vehicle is not None:
            built = next((item for item in vehicle.built_in if item.name == need.sits.on), None)
            if built is None:
                tell_unknown(
                    "built-in thing", need.sits.on, [item.name for item in vehicle.built_in], reading
                )
            elif all(face.name != need.sits.face for face in built.faces):
                tell_unknown("face", need.sits.face, [face.name for face in built.faces], reading)
    if need.at is not None:
        vehicle_named(need.at.vehicle, reading)
    if need.exchange is not None:
        _check_openings(need, reading)
    bound = [place.vehicle for place in (need.looks, need.sits, need.at) if place is not None]
    for name in bound:
        if name != bound[0]:
            reading.collector.add(
                name.spot, f"the vehicle {str(name)!r}", f"{str(bound[0])!r}, where the same need is bound to"
            )
        if need.in_ is not None and name not in need.in_ and name in reading.vehicles:
            names = one_of_phrase([repr(str(item)) for item in need.in_])
            reading.collector.add(name.spot, f"the vehicle {str(name)!r}", f"{names}, as in the need's 'in'")


def _check_openings(need: NeedEntry, reading: Reading) -> None:
    """Report openings that none of the vehicles has that a need may go into."""
    assert need.exchange is not None
    bound = [place.vehicle for place in (need.looks, need.sits, need.at) if place is not None]
    # Where a place is fixed to the last, the need may still name what it could be reached by elsewhere.
    frozen = need.at is not None and need.at.offset is not None
    names = [str(name) for name in ((not frozen and bound) or need.in_ or reading.vehicles)]
    homes = [reading.vehicles.get(name) for name in names]
    known = [opening.name for home in homes if home is not None for opening in home.openings]
    for name in need.exchange.open:
        if str(name) not in known and None not in homes:
            tell_unknown("opening", name, list(dict.fromkeys(known)), reading)


# --- needs and wiring --------------------------------------------------------------------------------------


def _need(item: NeedEntry, entry: TrainFile, asked: list[Part], reading: Reading) -> Need | None:
    demand = demand_on(str(item.name), item, entry, reading)
    if item.part is not None:
        found = asked
        if found:
            _check_named_part(item, found[0], demand, reading)
    else:
        found = _choose(item, asked, demand, entry, reading)
    if not found:
        return None
    if item.at is not None and item.at.plug_towards is not None and not has_socket(found):
        reading.collector.add(
            item.at.spot,
            f"'plug towards' of {str(item.name)!r}, which has no socket",
            "'front towards' or 'top towards'",
        )
    choose = item.choose
    home = reading.vehicles.get(item.at.vehicle) if item.at is not None else None
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
        pinned=fixed_place(item.at, home) if item.at is not None and home is not None else None,
        duty=item.duty,
        exchange=Exchange(
            openings=tuple(str(name) for name in item.exchange.open),
            parts_out=item.exchange.parts_out,
            bricks_out=item.exchange.bricks_out,
            wanted=True,
        )
        if item.exchange is not None
        else Exchange(),
    )


def _check_named_part(item: NeedEntry, part: Part, demand: Demand, reading: Reading) -> None:
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


def _choose(
    item: NeedEntry, asked: list[Part], demand: Demand, entry: TrainFile, reading: Reading
) -> list[Part]:
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
    if not wish.parts:
        drawer = {str(name) for name, count in entry.owned.parts if count}
        found.sort(key=lambda part: part.id not in drawer)
    if not found:
        expected = "a choice that some part of the catalogue meets"
        reading.collector.add(
            choose.spot, f"a choice for {str(item.name)!r} that no part meets", expected, reason
        )
    return found


def _wiring(entry: TrainFile, reading: Reading) -> Wiring:
    given, usual = entry.wiring, Wiring()
    spot = given.spot if given.spot.line else entry.spot
    signal = given.signal_wire or Text(usual.signal_wire, spot)
    power = given.power_wire or Text(usual.power_wire, spot)
    for name in (signal, power):
        part = part_named(name, reading)
        if part is not None and part.figure(Conductor) is None:
            reading.collector.add(name.spot, f"{str(name)!r}, which is no wire", "a part of the family wire")
    connector = given.coupling_connector
    if connector is not None:
        part = part_named(connector, reading)
        if part is not None and part.figure(Connector) is None:
            found = f"{str(connector)!r}, which is no connector"
            reading.collector.add(connector.spot, found, "a part of the family connector")
    for name in given.leads:
        part = part_named(name, reading)
        figures = part.figure(Lead) if part is not None else None
        if part is not None and (
            figures is None or {figures.first, figures.second} - {"socket", "pin", "bare"}
        ):
            expected = "a lead with a socket, a pin or bare wire at its ends"
            reading.collector.add(name.spot, f"{str(name)!r}, which is no single lead", expected)
    by, slack = given.allowances, given.coupling_slack
    return Wiring(
        signal_wire=str(signal),
        power_wire=str(power),
        style=given.style,
        coupling_connector=str(connector or ""),
        drop_limit_v=given.drop_limit,
        allowances=Allowances(
            lead_out=by.lead_out,
            slack_share=by.slack_share,
            per_bend=by.per_bend,
            bend_from_deg=by.bend_from,
            strip=by.strip,
            splice_overlap=by.splice_overlap,
            service_loop=by.service_loop,
            rounding=by.rounding,
        ),
        coupling_slack=Slack(share=slack.share, least=slack.least, above_rail=slack.above_rail),
        spools=tuple(
            Spool(spool.colour, math.inf if spool.metres is None else spool.metres, spool.awg or 0)
            for spool in given.spools
        ),
        leads=tuple(str(name) for name in given.leads),
        solder=given.solder and "soldering iron" in entry.owned.tools,
    )
