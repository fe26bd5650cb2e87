"""From a train file to a `Train`: vehicles and parts are looked up, and what hangs together is checked."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from fitplan.errors import Mistake
from fitplan.files.as_built import as_built
from fitplan.files.charged_in_place import charged_in_place
from fitplan.files.document import Block, Text, Value, parse_document, read_document, shown
from fitplan.files.entries import EMPTY, Collector, check_once, validate_top
from fitplan.files.look_up import Reading, part_named, parts_asked, tell_unknown
from fitplan.files.measured import measurements_of
from fitplan.files.need_read import check_places, need_of
from fitplan.files.open_ends import with_open_ends
from fitplan.files.operation_entries import RunningEntry
from fitplan.files.plugged_needs import plugged_needs
from fitplan.files.preferences import preferences_of
from fitplan.files.spare_wagon import spare_wagon
from fitplan.files.train_file import TrainFile
from fitplan.files.train_nets import check_nets, pin_ref, usual_of, with_usual_nets
from fitplan.files.train_track import check_standing
from fitplan.files.usual_kinds import otherwise_wired
from fitplan.files.vehicle_read import vehicle_of
from fitplan.files.zones import check_zones, with_zones
from fitplan.model.as_built import AsBuilt, as_measured
from fitplan.model.electrical import Conductor, Connector, Lead
from fitplan.model.nets import Net
from fitplan.model.on_hand import OnHand
from fitplan.model.operation import Running, Track
from fitplan.model.part import Part
from fitplan.model.train import LeftAside, Train, TrainVehicle, Weights
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
    only: Mapping[str, Collection[str]] = MappingProxyType({}),
) -> Train | None:
    """Return the train that a document describes, or None after its mistakes went to the list.

    Parameters
    ----------
    catalogue
        The parts that it may refer to.
    declared
        Ids that part files hold, those with mistakes included: a reference to one is no second mistake.
    only
        For some needs the ids to choose from, of those that the document allows; all of these otherwise.
    """
    before = len(mistakes)
    reading = Reading(Collector(path, mistakes), catalogue, declared, only=only)
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
        check_places(need, reading)
    names = [str(need.name) for need in entry.needs]
    for name in entry.running.reading_order:
        if name not in names:
            tell_unknown("need", name, names, reading)
    choices = _choices(entry, reading)
    there = as_built(entry.as_built, reading.collector)
    if entry.usual_nets:
        entry.nets = with_usual_nets(entry, document, choices, reading, _in_place(there))
        choices = _choices(entry, reading)
    check_nets(entry.nets, choices, reading)
    needs = [need_of(item, entry, choices[str(item.name)], reading) for item in entry.needs]
    for name, _ in entry.owned.parts:
        part_named(name, reading)
    preferences = preferences_of(entry, reading)
    wiring = _wiring(entry, reading)
    needs, with_plugs = plugged_needs(entry.nets, needs, reading)
    running = measurements.of_running(_running(entry.running))
    measurements.of_train([str(item.name) for item in entry.vehicles], names)
    if len(mistakes) > before:
        return None
    track, weights = entry.track, entry.weights
    vehicles = with_open_ends(
        [
            TrainVehicle(str(item.name), with_zones(vehicle, item.name, entry.zones), item.turned)
            for item in entry.vehicles
            if (vehicle := reading.vehicles[item.name]) is not None
        ]
    )
    nets = tuple(
        Net(
            str(item.name),
            item.role,
            tuple(pin_ref(ref) for ref in item.joins),
            item.style or entry.wiring.style,
            item.current,
            str(item.lead or ""),
        )
        for item in entry.nets
    )
    wanted = charged_in_place([need for need in needs if need is not None], nets)
    may_have_one = entry.may_add_wagon and all(item.vehicle.kind != "wagon" for item in vehicles)
    return Train(
        name=str(entry.train),
        vehicles=vehicles,
        needs=wanted,
        nets=nets,
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
        spare_wagon=spare_wagon(vehicles[0], wanted, track.structure_height) if may_have_one else None,
        may_open=entry.may_open,
        catalogue={**catalogue, **with_plugs},
        source=path.name,
        measured=measurements.measured,
        as_built=as_measured(there, measurements.measured, catalogue),
        left_aside=_left_aside(entry, reading),
    )


def other_wirings_of(
    document: Block, path: Path, catalogue: Mapping[str, Part], declared: frozenset[str]
) -> Iterator[Train]:
    """Yield the train of a document without mistakes, each time with choices of parts that are wired alike.

    Nothing where all nets are written, or all parts of each choice are wired alike.
    """
    quiet: list[Mistake] = []
    reading = Reading(Collector(path, quiet), catalogue, declared)
    entry = validate_top(TrainFile, document, reading.collector, _STAND_INS)
    if entry is None or not entry.usual_nets:
        return
    reading.catalogue = measurements_of(entry, path, reading.collector).of_parts(catalogue)
    _read_vehicles(entry, path, reading)
    built = _in_place(as_built(entry.as_built, reading.collector))
    for only in otherwise_wired(_choices(entry, reading), usual_of(entry, reading), built):
        train = train_of(document, path, catalogue, declared, quiet, only)
        if train is not None:
            yield train
        quiet.clear()


def _in_place(there: AsBuilt) -> frozenset[tuple[str, str]]:
    return frozenset((part.need, part.part) for part in there.parts)


def _choices(entry: TrainFile, reading: Reading) -> dict[str, list[Part]]:
    return {str(need.name): parts_asked(need, reading) for need in entry.needs}


def _left_aside(entry: TrainFile, reading: Reading) -> tuple[LeftAside, ...]:
    """Return what lists name and is not chosen from, as it is wired otherwise."""
    if not reading.only:
        return ()
    every = _choices(entry, replace(reading, collector=Collector(reading.collector.path, []), only={}))
    stays = _choices(entry, reading)
    found = []
    for name, parts in every.items():
        if gone := tuple(part.id for part in parts if part not in stays[name]):
            found.append(LeftAside(name, gone))
    return tuple(found)


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


# --- needs and wiring --------------------------------------------------------------------------------------


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
