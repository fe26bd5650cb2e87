"""A plan laid out for checking: for each vehicle its body as it is once rebuilt, and the parts in it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

from fitplan.model.built import BuiltTrain
from fitplan.model.part import Clearance
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Vec, bounds_of
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Opening, State, Vehicle, open_side
from fitplan.verify.body import Body, BodyPiece
from fitplan.verify.shapes import Shape, eroded, shape_of
from fitplan.verify.studs import floor_studs

TOLERANCE = 1e-3
"""Solids that run into each other by no more than this (mm) count as touching."""
BLOCKED: tuple[State, ...] = ("fixed", "removable", "keep-clear", "outside")
"""Where no part may be."""
SOLID: tuple[State, ...] = ("fixed", "removable")


@dataclass(frozen=True)
class PlacedPart:
    """A placed part with its shapes in the vehicle's frame."""

    placement: Placement
    envelope: tuple[Shape, ...]
    clearances: tuple[tuple[Clearance, Shape], ...]

    @property
    def name(self) -> str:
        """The need's name."""
        return self.placement.need

    @cached_property
    def core(self) -> tuple[Shape, ...]:
        """The envelope less the tolerance on every side."""
        return tuple(core_of(shape) for shape in self.envelope)

    @cached_property
    def bounds(self) -> Box:
        """Smallest box round the envelope."""
        return bounds_of(tuple(shape.bounds for shape in self.envelope))

    @cached_property
    def center(self) -> Vec:
        """Middle of the envelope's volume, as far as boxes round its solids tell."""
        boxes = [shape.bounds for shape in self.envelope]
        total = sum(box.volume for box in boxes)
        middle = [sum(box.volume * box.center[i] for box in boxes) / total for i in range(3)]
        return (middle[0], middle[1], middle[2])


def core_of(shape: Shape) -> Shape:
    """Return a shape less the tolerance on every side (itself when it is thinner than that)."""
    return eroded(shape, TOLERANCE) or shape


def standing(placement: Placement) -> PlacedPart:
    """Lay a part out where it was placed."""
    place = placement.place
    return PlacedPart(
        placement,
        tuple(shape_of(place.move_solid(solid)) for solid in placement.part.envelope),
        tuple((entry, shape_of(place.move_solid(entry.solid))) for entry in placement.part.clearances),
    )


class Site:
    """One vehicle of the plan: its body without the bricks that come out, and the parts in it."""

    def __init__(
        self,
        entry: TrainVehicle,
        removed: frozenset[str],
        parts: tuple[PlacedPart, ...],
        held: tuple[tuple[str, Box], ...] = (),
    ) -> None:
        self.entry = entry
        self.removed = removed
        self.parts = parts
        self.held = held
        """Bricks that hold parts from beside and above, with the part's name."""
        self._opened: dict[str, Body] = {}
        self.shelves: tuple[tuple[str, Box], ...] = tuple(
            (part.name, box)
            for part in parts
            if part.placement.shelf is not None
            for box in part.placement.shelf.boxes
        )

    def holding(self, parts: tuple[PlacedPart, ...]) -> Site:
        """Return the same vehicle with other parts in it; its body is not cut into cells again."""
        other = Site(self.entry, self.removed, parts)
        other.__dict__["body"] = self.body
        return other

    @property
    def name(self) -> str:
        """The vehicle's name in the train."""
        return self.entry.name

    @property
    def vehicle(self) -> Vehicle:
        """The vehicle as its file describes it."""
        return self.entry.vehicle

    @cached_property
    def _bricks(self) -> tuple[BodyPiece, ...]:
        return drawn_bricks(self.vehicle, self.removed)

    @cached_property
    def _drawn(self) -> tuple[BodyPiece, ...]:
        return (*self._bricks, *_built_in(self.vehicle))

    @cached_property
    def body(self) -> Body:
        """The body with its studs and what is built in."""
        return Body(_reach(self._drawn, self.vehicle.hull), "outside", self._drawn)

    def opened(self, opening: Opening) -> Body:
        """Return the body while one opening is open: what it is made of inside the opening's box is off.

        An open side has no lid: there the body is as it is.
        """
        return self.opened_by((opening.name,)) if opening in self.vehicle.openings else self.body

    def opened_by(self, names: Collection[str]) -> Body:
        """Return the body while all of these openings are open; those that have no lid change nothing."""
        lids = tuple(one for one in self.vehicle.openings if one.name in names)
        key = ", ".join(one.name for one in lids)
        if not lids:
            return self.body
        if key not in self._opened:
            off = (BodyPiece(one.box, "free", "an open lid") for one in lids)
            pieces = (*self._bricks, *off, *_built_in(self.vehicle))
            self._opened[key] = Body(_reach(pieces, self.vehicle.hull), "outside", pieces)
        return self._opened[key]

    def way_in(self, name: str) -> Opening | None:
        """Return an opening by its name, or the open side of that name; None when there is neither."""
        declared = next((one for one in self.vehicle.openings if one.name == name), None)
        return declared or open_side(self.vehicle, name)

    @cached_property
    def wire_room(self) -> Body:
        """The body as wires see it: the holes of ports are free."""
        ports = tuple(BodyPiece(port.box, "free", f"port {port.name}") for port in self.vehicle.ports)
        pieces = (*self._drawn, *ports)
        return Body(_reach(pieces, self.vehicle.hull), "outside", pieces)


def drawn_body(vehicle: Vehicle, removed: frozenset[str]) -> tuple[BodyPiece, ...]:
    """Return all solids of a vehicle in drawing order: body, studs, what is built in."""
    return (*drawn_bricks(vehicle, removed), *_built_in(vehicle))


def drawn_bricks(vehicle: Vehicle, removed: frozenset[str]) -> tuple[BodyPiece, ...]:
    """Return the solids of a body in drawing order, then its studs."""
    body: list[BodyPiece] = []
    for entry in vehicle.body:
        out = entry.state == "removable" and entry.removable in removed
        name = f"removable {entry.removable}" if entry.removable else entry.state
        body.append(BodyPiece(shape_of(entry.solid), "free" if out else entry.state, name, entry.smooth))
    return (*body, *floor_studs(vehicle, body))


def _built_in(vehicle: Vehicle) -> tuple[BodyPiece, ...]:
    return tuple(
        BodyPiece(shape_of(solid), "fixed", f"built-in {built.name}")
        for built in vehicle.built_in
        for solid in built.solids
    )


def _reach(pieces: tuple[BodyPiece, ...], hull: Box) -> Box:
    return bounds_of((hull, *(piece.shape.bounds for piece in pieces)))


def sites_of(built: BuiltTrain) -> dict[str, Site]:
    """Return the vehicles of a plan by name, in running order."""
    removed: dict[str, set[str]] = {}
    for rebuild in built.rebuilds:
        removed.setdefault(rebuild.vehicle, set()).update(rebuild.remove)
    found: dict[str, Site] = {}
    for entry in built.train.vehicles:
        parts = tuple(standing(place) for place in built.placements if place.vehicle == entry.name)
        fastened = [one for one in built.fastenings if one.vehicle == entry.name]
        held = tuple((one.need, brick.box) for one in fastened for brick in one.bricks)
        found[entry.name] = Site(entry, frozenset(removed.get(entry.name, ())), parts, held)
    return found
