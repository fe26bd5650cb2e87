"""Solids sliding out of a vehicle by straight moves, and what they run into.

Each straight move sweeps a solid that is known exactly; it may touch, but not overlap, what is there. The
last move must run in the opening's own direction, with the middle of what moves within its outline (to
0.1 mm), and end wholly outside the hull. Free and outside space may be passed; keep-clear space may not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fitplan.model.solids import Box, Direction, Vec, axis_of, bounds_of, opposite, plane_of, unit_vector
from fitplan.model.vehicle import Opening, State
from fitplan.model.ways_in import Moves
from fitplan.verify.body import Body, Hit
from fitplan.verify.overlap import bounds_overlap, overlap, way_out
from fitplan.verify.result import Tally
from fitplan.verify.scene import SOLID, TOLERANCE, PlacedPart, Site, core_of
from fitplan.verify.shapes import PLANE, Shape, moved, swept

NEAR = 0.1
STATES_IN_THE_WAY: tuple[State, ...] = (*SOLID, "keep-clear")


@dataclass(frozen=True)
class Mover:
    """What slides: its name in messages, and its solids where they lie."""

    name: str
    shapes: tuple[Shape, ...]

    @property
    def bounds(self) -> Box:
        """Smallest box round it."""
        return bounds_of(tuple(shape.bounds for shape in self.shapes))


def slide_out(
    site: Site,
    mover: Mover,
    moves: Moves,
    stay: Sequence[PlacedPart],
    shelves_of: Sequence[str],
    opening: Opening | None,
    sheet: Tally,
    subject: str,
) -> None:
    """Slide something out of a vehicle; what it runs into is a problem.

    Parameters
    ----------
    stay
        The parts that are in.
    shelves_of
        Whose shelves are in.
    opening
        What is open; None: everything is closed, and the move may lead anywhere out.
    """
    if not moves or any(distance < 0 for _, distance in moves):
        sheet.problem(subject, site.name, f"the step of {mover.name} has no moves")
        return
    body = site.opened(opening) if opening is not None else site.body
    in_the_way: list[tuple[str, Shape]] = [(other.name, shape) for other in stay for shape in other.envelope]
    in_the_way += [
        (f"the shelf under {owner}", shelf) for owner, shelf in site.shelves if owner in shelves_of
    ]
    before, at = _swept(site, mover, moves, body, in_the_way, sheet, subject)
    outside = moved(mover.bounds, at)
    if bounds_overlap(outside.bounds, core_of(site.vehicle.hull).bounds):
        out = opening.out if opening is not None else moves[-1][0]
        left = plane_of(site.vehicle.hull, out) - plane_of(outside.bounds, opposite(out))
        message = f"{mover.name} is not yet out of the hull after its moves"
        sheet.problem(subject, site.name, message, abs(left), "mm")
    if opening is not None:
        _through(site, mover, before, moves[-1][0], opening, sheet, subject)


def slide_apart(
    site: Site, mover: Mover, moves: Moves, rest: Sequence[PlacedPart], sheet: Tally, subject: str
) -> None:
    """Slide a part off others outside the vehicle; what it runs into, or stays within, is a problem."""
    in_the_way: list[tuple[str, Shape]] = [(other.name, shape) for other in rest for shape in other.envelope]
    _, at = _swept(site, mover, moves, None, in_the_way, sheet, subject)
    away = moved(mover.bounds, at).bounds
    if any(bounds_overlap(away, core_of(other.bounds).bounds) for other in rest):
        sheet.problem(subject, site.name, f"{mover.name} is not yet off the others after its moves")


def _swept(
    site: Site,
    mover: Mover,
    moves: Moves,
    body: Body | None,
    in_the_way: list[tuple[str, Shape]],
    sheet: Tally,
    subject: str,
) -> tuple[Vec, Vec]:
    """Sweep all moves; return where the mover is before and after the last."""
    before: Vec = (0.0, 0.0, 0.0)
    at: Vec = (0.0, 0.0, 0.0)
    for number, (way, distance) in enumerate(moves, start=1):
        for shape in mover.shapes:
            for sweep in swept(moved(core_of(shape), at), way, distance):
                sheet.count("swept solids")
                where = f"{mover.name}, move {number} out ({way} {distance:.1f} mm)"
                hits = body.hits(sweep, STATES_IN_THE_WAY) if body is not None else []
                _against(where, site, sweep, hits, in_the_way, sheet, subject)
        before, at = at, _plus(at, way, distance)
    return before, at


def _through(
    site: Site, mover: Mover, before: Vec, way: Direction, opening: Opening, sheet: Tally, subject: str
) -> None:
    """Check that the last move goes through the opening: its middle in the outline, from within."""
    start = moved(mover.bounds, before).bounds
    middle = start.center
    axis = axis_of(opening.out)
    beside = max(max(opening.box.low[i] - middle[i], middle[i] - opening.box.high[i]) for i in PLANE[axis])
    ahead = plane_of(start, opposite(opening.out)) - plane_of(opening.box, opening.out)
    if way != opening.out or beside > NEAR or ahead * sum(unit_vector(opening.out)) >= 0:
        message = f"{mover.name} does not leave through {opening.name} towards {opening.out}"
        sheet.problem(subject, site.name, message, max(beside, 0.0), "mm")


def _against(
    where: str,
    site: Site,
    sweep: Shape,
    hits: Sequence[Hit],
    in_the_way: list[tuple[str, Shape]],
    sheet: Tally,
    subject: str,
) -> None:
    for hit in hits:
        message = f"{where}: runs {hit.depth + TOLERANCE:.3f} mm into {hit.piece.name}"
        sheet.problem(subject, site.name, message, hit.depth + TOLERANCE, "mm")
    for name, shape in in_the_way:
        if overlap(sweep, shape):
            depth = way_out(sweep, shape)[0] + TOLERANCE
            sheet.problem(subject, site.name, f"{where}: runs {depth:.3f} mm into {name}", depth, "mm")


def _plus(at: Vec, way: Direction, distance: float) -> Vec:
    x, y, z = unit_vector(way)
    return (at[0] + x * distance, at[1] + y * distance, at[2] + z * distance)
