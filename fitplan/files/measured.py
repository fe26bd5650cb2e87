"""What was measured on the finished train, as it stands in the train file: it goes before typical figures.

Figures of parts and vehicles take the place of those that their files hold; the speed and the way to
standstill take the place of what `running` says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from fitplan.errors import Mistake, nearest_name
from fitplan.files.document import Text, read_document, shown
from fitplan.files.entries import Collector, validate
from fitplan.files.fields import one_of_phrase
from fitplan.files.look_up import part_hint
from fitplan.files.measured_entries import MeasuredEntry, MeasuredFile
from fitplan.files.measured_room import with_room
from fitplan.files.on_envelope import point_words
from fitplan.files.train_file import TrainFile
from fitplan.model.electrical import Controller, Load
from fitplan.model.measured import (
    Measured,
    MeasuredCoupling,
    MeasuredFigure,
    MeasuredSupply,
    MeasuredWire,
    StopRun,
    free_length_of,
    stopping_fit,
)
from fitplan.model.operation import Running
from fitplan.model.part import Part
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge
from fitplan.model.vehicle import Vehicle


def measurements_of(entry: TrainFile, path: Path, collector: Collector) -> Measurements:
    """Return what was measured, from the train file itself or from the file that it names."""
    if not isinstance(entry.measured, Text):
        return Measurements(entry.measured, collector)
    file = path.parent / str(entry.measured)
    found: list[Mistake] = []
    document = read_document(file, found)
    there = Collector(file, found)
    whole = validate(MeasuredFile, document, there) if document is not None else None
    if document is None and len(found) == 1 and not found[0].line:
        # The file is missing or no text: the mistake stands where the train file names it.
        only = found.pop()
        spot = entry.measured.spot
        collector.add(spot, f"{shown(entry.measured)}: {only.found}", only.expected, only.hint)
    collector.mistakes.extend(found)
    return Measurements(whole.measured if whole is not None else (), Collector(file, collector.mistakes))


class Measurements:
    """The measured figures of a train file, put where typical ones were."""

    def __init__(self, entries: Sequence[MeasuredEntry], collector: Collector) -> None:
        self._entries = entries
        self._collector = collector
        self._told: list[MeasuredFigure] = []
        self._stops: tuple[StopRun, ...] = ()
        self._chance = Measured().chance
        self._drawn: list[str] = []
        self._couplings: list[MeasuredCoupling] = []
        self._supplies: list[MeasuredSupply] = []

    @property
    def measured(self) -> Measured:
        """What was measured, once all of it has been put in its place."""
        wires = [
            MeasuredWire(entry.wire, entry.cut, entry.date)
            for entry in self._entries
            if entry.wire is not None and entry.cut is not None
        ]
        return Measured(
            tuple(self._told),
            self._stops,
            self._chance,
            tuple(self._couplings),
            tuple(self._supplies),
            tuple(wires),
            tuple(dict.fromkeys(self._drawn)),
        )

    def of_parts(self, catalogue: Mapping[str, Part]) -> dict[str, Part]:
        """Return the catalogue with measured parts."""
        found = dict(catalogue)
        for entry in self._entries:
            if entry.part is None:
                continue
            part = found.get(str(entry.part))
            if part is None:
                hint = part_hint(entry.part, found)
                self._add(
                    entry.part, f"the unknown part {str(entry.part)!r}", "a part of the catalogue", hint
                )
                continue
            found[part.id] = self._part(entry, part)
        return found

    def of_vehicles(self, vehicles: Mapping[str, Vehicle | None]) -> dict[str, Vehicle | None]:
        """Return the train's vehicles by name, with measured masses, rooms and what is built in."""
        found = dict(vehicles)
        for entry in self._entries:
            if entry.vehicle is not None:
                name, slash, thing = str(entry.vehicle), "", ""
            elif entry.built_in is not None:
                name, slash, thing = str(entry.built_in).partition("/")
            else:
                continue
            vehicle = found.get(name)
            if vehicle is None:
                if name not in found:
                    said = entry.vehicle if entry.vehicle is not None else entry.built_in
                    assert said is not None
                    near = nearest_name(name, found)
                    self._add(said, f"the unknown vehicle {name!r}", one_of_phrase(found), near)
                continue
            found[name] = (
                self._built_in(entry, vehicle, name, thing) if slash else self._vehicle(entry, vehicle)
            )
        return found

    def of_train(self, names: Sequence[str], needs: Sequence[str]) -> None:
        """Take in what was measured of couplings and supplies.

        Parameters
        ----------
        names
            The vehicles in running order.
        needs
            All that is needed.
        """
        for entry in self._entries:
            if entry.coupling is not None and entry.free is not None:
                ends = [str(name) for name in entry.coupling]
                places = [names.index(name) for name in ends if name in names]
                if len(places) != len(ends):
                    continue  # a vehicle that is left at home
                if abs(places[0] - places[1]) != 1:
                    found = f"a coupling of {ends[0]!r} and {ends[1]!r}"
                    self._collector.add(entry.spot, found, "two vehicles that are coupled")
                    continue
                one, other = (ends[0], ends[1]) if places[0] < places[1] else (ends[1], ends[0])
                self._couplings.append(MeasuredCoupling((one, other), entry.free, entry.date))
                self._tell(entry, free_length_of(one, other), f"{entry.free:g} mm", "from poses in curves")
            if entry.supply is not None and entry.current is not None:
                name = str(entry.supply)
                if name not in needs:
                    near = nearest_name(name, needs)
                    self._add(entry.supply, f"the unknown need {name!r}", one_of_phrase(needs), near)
                    continue
                self._supplies.append(MeasuredSupply(name, entry.current, entry.date))
                was = "what draws from it, added up"
                self._tell(entry, f"current from {name}", f"{entry.current:g} mA", was)
            if entry.wire is not None and entry.cut is not None:
                self._tell(entry, f"length of wire {entry.wire}", f"{entry.cut:g} mm", "as planned")

    def of_running(self, running: Running) -> Running:
        """Return how the train runs, as far as that was measured."""
        runs: list[StopRun] = []
        last: MeasuredEntry | None = None
        for entry in self._entries:
            if entry.speed is not None:
                speed = entry.speed.over * len(entry.speed.seconds) / sum(entry.speed.seconds)
                self._tell(entry, "speed", f"{speed:.0f} mm/s", f"{running.speed:g} mm/s")
                running = replace(running, speed=round(speed, 2))
            if entry.braking:
                last = entry
                runs += [StopRun(one.speed, run) for one in entry.braking for run in one.stops]
                self._chance = self._chance if entry.chance is None else entry.chance / 100
        if last is None:
            return running
        fit = stopping_fit(runs)
        if isinstance(fit, str):
            self._collector.add(last.spot, "stops that no braking follows from", fit)
            return running
        self._stops = tuple(runs)
        was = f"{running.deceleration:g} mm/s²"
        said = f"{fit.deceleration:.0f} mm/s², ± {fit.spread_mm:.1f} mm over {len(runs)} stops"
        self._tell(last, "deceleration", said, was)
        self._tell(last, "command delay", f"{fit.delay_s:.3f} s", f"{running.command_delay_s:g} s")
        return replace(
            running, deceleration=round(fit.deceleration, 3), command_delay_s=round(fit.delay_s, 5)
        )

    def _vehicle(self, entry: MeasuredEntry, vehicle: Vehicle) -> Vehicle:
        if entry.mass is not None:
            self._tell(entry, f"mass of {entry.vehicle}", f"{entry.mass:g} g", f"{vehicle.mass_g:g} g")
            vehicle = replace(vehicle, mass_g=entry.mass)
        if entry.room is not None:
            made, drawn = with_room(vehicle, entry.room.at, entry.room.towards, entry.room.free)
            if made is None:
                self._collector.add(entry.room.spot, drawn, "a length that is near to what is drawn")
                return vehicle
            words = f"room of {entry.vehicle} at {point_words(entry.room.at)}"
            self._tell(entry, words, f"{entry.room.free:g} mm", drawn)
            vehicle = made
        return vehicle

    def _built_in(self, entry: MeasuredEntry, vehicle: Vehicle, name: str, thing: str) -> Vehicle:
        there = next((one for one in vehicle.built_in if one.name == thing), None)
        if there is None:
            assert entry.built_in is not None
            known = [one.name for one in vehicle.built_in]
            near = nearest_name(thing, known)
            self._add(entry.built_in, f"the unknown built-in thing {thing!r}", one_of_phrase(known), near)
            return vehicle
        owner = f"{name}/{thing}"
        now = there
        if entry.current is not None:
            self._tell(entry, f"current of {owner}", f"{entry.current:g} mA", f"{there.current_ma:g} mA")
            now = replace(now, current_ma=entry.current)
            self._drawn.append(owner)
        if entry.stall is not None:
            self._tell(entry, f"stall of {owner}", f"{entry.stall:g} mA", f"{there.stall_ma:g} mA")
            now = replace(now, stall_ma=entry.stall)
        items = tuple(now if one is there else one for one in vehicle.built_in)
        return replace(vehicle, built_in=items)

    def _part(self, entry: MeasuredEntry, part: Part) -> Part:
        if entry.mass is not None:
            self._tell(entry, f"mass of {part.id}", f"{entry.mass:g} g", f"{part.mass_g:g} g")
            part = replace(part, mass_g=entry.mass)
        if entry.size is not None:
            words, was = _edges(entry.size), _edges(part.bounds.size)
            self._tell(entry, f"outline of {part.id}", words, was)
            part = replace(resized(part, entry.size), typical=False)
        if entry.current is not None:
            draws = [one for one in part.electrical if isinstance(one, Controller | Load)]
            if not draws:
                self._collector.add(entry.spot, f"a current of {part.id}", "a part that draws one of itself")
                return part
            now = entry.current
            was = f"{draws[0].current_ma:g} mA"
            self._tell(entry, f"current of {part.id}", f"{now:g} mA", was)
            figures = tuple(
                replace(one, current_ma=now, peak_ma=max(one.peak_ma, now))
                if isinstance(one, Controller | Load)
                else one
                for one in part.electrical
            )
            part = replace(part, electrical=figures)
            self._drawn.append(part.id)
        return part

    def _tell(self, entry: MeasuredEntry, what: str, value: str, typical: str) -> None:
        self._told.append(MeasuredFigure(entry.date, what, value, typical))

    def _add(self, where: Text, found: str, expected: str, hint: str = "") -> None:
        self._collector.add(where.spot, found, expected, hint)


def resized(part: Part, size: Vec) -> Part:
    """Return a part drawn to another size (mm): solids, room, pins and lens follow, in proportion."""
    low = part.bounds.low
    factors = [new / old for new, old in zip(size, part.bounds.size, strict=True)]

    def at(point: Vec) -> Vec:
        x, y, z = (round(a + (p - a) * f, 4) for a, p, f in zip(low, point, factors, strict=True))
        return (x, y, z)

    def solid(one: Solid) -> Solid:
        match one:
            case Box():
                return Box(at(one.low), at(one.high))
            case Cylinder():
                axis = AXES.index(one.axis)
                wide = max(factor for place, factor in enumerate(factors) if place != axis)
                return Cylinder(one.axis, at(one.start), one.length * factors[axis], one.radius * wide)
            case Wedge():
                return Wedge(Box(at(one.box.low), at(one.box.high)), one.base, one.back)

    def box(one: Box) -> Box:
        return Box(at(one.low), at(one.high))

    lens = part.mount.lens
    return replace(
        part,
        envelope=tuple(map(solid, part.envelope)),
        clearances=tuple(replace(one, solid=solid(one.solid)) for one in part.clearances),
        pins=tuple(replace(pin, at=at(pin.at)) for pin in part.pins),
        mount=part.mount if lens is None else replace(part.mount, lens=box(lens)),
    )


def _edges(size: Vec) -> str:
    return " × ".join(f"{edge:g}" for edge in size) + " mm"
