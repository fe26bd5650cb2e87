"""What was measured on the finished train, as it stands in the train file: it goes before typical figures.

Figures of parts and vehicles take the place of those that their files hold; the speed and the way to
standstill take the place of what `running` says.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Annotated, Self

from pydantic import Field, PlainValidator, model_validator

from fitplan.errors import nearest_name
from fitplan.files.document import Row, Text, shown
from fitplan.files.entries import Collector, Entry, about, many
from fitplan.files.fields import (
    Extent,
    InvalidValue,
    Name,
    PartId,
    Size,
    ValueKind,
    number,
    one_of_phrase,
)
from fitplan.model.electrical import Controller, Load
from fitplan.model.measured import Measured, MeasuredFigure, StopRun, stopping_fit
from fitplan.model.operation import Running
from fitplan.model.part import Part
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge
from fitplan.model.vehicle import Vehicle

_KINDS = ("speed", "braking", "part", "vehicle")


def _read_date(value: object) -> str:
    text = str(value).strip() if isinstance(value, Text) else ""
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            raise ValueError
        date.fromisoformat(text)
    except ValueError:
        raise InvalidValue(shown(value), "a day, such as 2026-05-17") from None
    return text


def _figures(value: object, unit: str, least: int) -> tuple[float, ...]:
    if not isinstance(value, Row) or len(value) < least:
        raise InvalidValue(shown(value), f"a list of at least {least} numbers in {unit}")
    read = number(unit, above=0)
    return tuple(read(item) for item in value)


_Day = Annotated[str, PlainValidator(_read_date), ValueKind("day: 2026-05-17")]
_Times = Annotated[
    tuple[float, ...],
    PlainValidator(lambda value: _figures(value, "s", 1)),
    ValueKind("list of numbers in s"),
]
_Runs = Annotated[
    tuple[float, ...],
    PlainValidator(lambda value: _figures(value, "mm", 1)),
    ValueKind("list of numbers in mm"),
]
_Speed = Annotated[float, PlainValidator(number("mm/s", above=0, most=5000)), ValueKind("number in mm/s")]


class SpeedEntry(Entry):
    """The speed, over a stretch of straight level track."""

    over: Extent = Field(1000.0, description="how long the stretch is; a metre when not given")
    seconds: _Times = about("how long each run took")


class StopsEntry(Entry):
    """Stops at one speed on level track."""

    speed: _Speed = about("at which the train was told to stop")
    stops: _Runs = about("how far it ran on each time, from where it was told to standstill")


class MeasuredEntry(Entry):
    """Something that was measured: the speed, the braking, a part or a vehicle."""

    date: _Day = about("when")
    speed: SpeedEntry | None = Field(None, description="top speed; goes before `speed` of `running`")
    braking: Annotated[list[StopsEntry], *many(StopsEntry, "stops")] = Field(
        [],
        description="stops at two speeds or more, better three; go before `deceleration` and `command delay`",
    )
    chance: (
        Annotated[float, PlainValidator(number("%", above=0, most=50)), ValueKind("number in %")] | None
    ) = Field(None, description="with `braking`: of stops that may go beyond the margin; 1 % when not given")
    part: PartId | None = Field(None, description="which part of the catalogue")
    vehicle: Name | None = Field(None, description="which vehicle of the train, without what is built in")
    mass: Annotated[float, PlainValidator(number("g", above=0)), ValueKind("number in g")] | None = Field(
        None, description="of the part or vehicle"
    )
    current: Annotated[float, PlainValidator(number("mA", least=0)), ValueKind("number in mA")] | None = (
        Field(None, description="of the part, as it draws it in running")
    )
    size: Size | None = Field(
        None, description="of the part, along its own x, y and z, plugs left off; all of its drawing follows"
    )

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [kind for kind in _KINDS if getattr(self, kind)]
        if len(given) != 1:
            found = "nothing that was measured" if not given else f"{' and '.join(given)} together"
            raise self.lacking(found, f"one of {one_of_phrase(_KINDS)}")
        may = {"part": ("mass", "current", "size"), "vehicle": ("mass",)}.get(given[0], ())
        has = [key for key in ("mass", "current", "size") if getattr(self, key) is not None]
        if may and not set(has) & set(may):
            raise self.lacking(f"no figure of the {given[0]}", one_of_phrase(may))
        odd = [key for key in has if key not in may]
        if odd:
            raise self.lacking(f"{odd[0]!r} beside {given[0]!r}", f"{one_of_phrase(may or ('none',))}")
        return self


class Measurements:
    """The measured figures of a train file, put where typical ones were."""

    def __init__(self, entries: Sequence[MeasuredEntry], collector: Collector) -> None:
        self._entries = entries
        self._collector = collector
        self._told: list[MeasuredFigure] = []
        self._stops: tuple[StopRun, ...] = ()
        self._chance = Measured().chance

    @property
    def measured(self) -> Measured:
        """What was measured, once all of it has been put in its place."""
        return Measured(tuple(self._told), self._stops, self._chance)

    def of_parts(self, catalogue: Mapping[str, Part]) -> dict[str, Part]:
        """Return the catalogue with measured parts."""
        found = dict(catalogue)
        for entry in self._entries:
            if entry.part is None:
                continue
            part = found.get(str(entry.part))
            if part is None:
                hint = nearest_name(entry.part, found)
                self._add(
                    entry.part, f"the unknown part {str(entry.part)!r}", "a part of the catalogue", hint
                )
                continue
            found[part.id] = self._part(entry, part)
        return found

    def of_vehicles(self, vehicles: Mapping[str, Vehicle | None]) -> dict[str, Vehicle | None]:
        """Return the train's vehicles by name, with measured masses."""
        found = dict(vehicles)
        for entry in self._entries:
            if entry.vehicle is None or entry.mass is None:
                continue
            vehicle = found.get(str(entry.vehicle))
            if vehicle is None:
                if entry.vehicle not in found:
                    near = nearest_name(entry.vehicle, found)
                    name = str(entry.vehicle)
                    self._add(entry.vehicle, f"the unknown vehicle {name!r}", one_of_phrase(found), near)
                continue
            self._tell(entry, f"mass of {entry.vehicle}", f"{entry.mass:g} g", f"{vehicle.mass_g:g} g")
            found[str(entry.vehicle)] = replace(vehicle, mass_g=entry.mass)
        return found

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
