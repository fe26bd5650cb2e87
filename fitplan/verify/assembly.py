"""The order of assembly replayed backwards: every part slides out again, and must touch nothing.

Steps are undone from the last to the first. While a step is undone its opening is open (what the body is made
of inside the opening's box is off), all parts of earlier steps are in, with their shelves, and those of later
steps are out. Each straight move sweeps a solid that is known exactly; it may touch, but not overlap, what is
there. The last move must run in the opening's own direction, with the part's middle within its outline (to
0.1 mm), and end wholly outside the hull. Free and outside space may be passed; keep-clear space may not.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.plan import AssemblyStep
from fitplan.model.solids import Direction, Vec, opposite, unit_vector
from fitplan.model.vehicle import Opening, State
from fitplan.verify.body import Hit
from fitplan.verify.overlap import bounds_overlap, overlap, way_out
from fitplan.verify.result import Sheet
from fitplan.verify.scene import SOLID, TOLERANCE, Site, Standing, axis_of, core_of, plane_of
from fitplan.verify.shapes import PLANE, Shape, moved, swept

NEAR = 0.1
STATES_IN_THE_WAY: tuple[State, ...] = (*SOLID, "keep-clear")


def check_assembly(site: Site, steps: Sequence[AssemblyStep], blocked: Sequence[str], sheet: Sheet) -> None:
    """Replay the steps of one vehicle backwards."""
    own = sorted((step for step in steps if step.vehicle == site.name), key=lambda step: step.number)
    parts = {part.name: part for part in site.parts}
    listed = [step.need for step in own]
    for name in sorted(set(parts) - set(listed)):
        if any(name in text for text in blocked):
            sheet.note("assembly", site.name, f"{name} has no way in, as the plan says")
        else:
            sheet.problem("assembly", site.name, f"{name} is in no step of the assembly")
    for name in sorted({name for name in listed if listed.count(name) > 1 or name not in parts}):
        sheet.problem("assembly", site.name, f"{name} does not occur exactly once in the assembly")
    steps_left = [step for step in own if step.need in parts]
    numbers = [step.number for step in steps_left]
    if len(set(numbers)) != len(numbers):
        sheet.problem("assembly", site.name, "two steps have the same number")
    openings = {opening.name: opening for opening in site.vehicle.openings}
    while steps_left:
        step = steps_left.pop()
        sheet.count("assembly steps replayed")
        opening = openings.get(step.opening)
        if opening is None:
            message = f"{step.need} goes through {step.opening!r}, which is no opening"
            sheet.problem("assembly", site.name, message)
            continue
        # What has no step of its own is taken to be there all the time.
        gone = {other.need for other in own} - {other.need for other in steps_left}
        stay = [other for name, other in parts.items() if name not in gone and name != step.need]
        _undo(site, step, parts[step.need], stay, opening, sheet)


def way_back(step: AssemblyStep) -> tuple[tuple[Direction, float], ...]:
    """Return the moves that take a part out again."""
    return tuple((opposite(way), distance) for way, distance in reversed(step.moves))


def _undo(
    site: Site, step: AssemblyStep, part: Standing, stay: list[Standing], opening: Opening, sheet: Sheet
) -> None:
    moves = way_back(step)
    if not moves or any(distance < 0 for _, distance in moves):
        sheet.problem("assembly", site.name, f"the step of {part.name} has no moves")
        return
    body = site.opened(opening)
    in_the_way: list[tuple[str, Shape]] = [(other.name, shape) for other in stay for shape in other.envelope]
    names = {part.name, *(other.name for other in stay)}
    in_the_way += [(f"the shelf under {owner}", shelf) for owner, shelf in site.shelves if owner in names]
    at: Vec = (0.0, 0.0, 0.0)
    for number, (way, distance) in enumerate(moves, start=1):
        for shape in part.envelope:
            for sweep in swept(moved(core_of(shape), at), way, distance):
                sheet.count("swept solids")
                where = f"{part.name}, move {number} out ({way} {distance:.1f} mm)"
                _against(where, site, sweep, body.hits(sweep, STATES_IN_THE_WAY), in_the_way, sheet)
        before, at = at, _plus(at, way, distance)
    outside = moved(part.bounds, at)
    if bounds_overlap(outside.bounds, core_of(site.vehicle.hull).bounds):
        left = plane_of(site.vehicle.hull, opening.out) - plane_of(outside.bounds, opposite(opening.out))
        message = f"{part.name} is not yet out of the hull after its moves"
        sheet.problem("assembly", site.name, message, abs(left), "mm")
    _through(site, part, before, moves[-1][0], opening, sheet)


def _through(site: Site, part: Standing, before: Vec, way: Direction, opening: Opening, sheet: Sheet) -> None:
    """Check that the last move goes through the opening: its middle in the outline, from within."""
    start = moved(part.bounds, before).bounds
    middle = start.center
    axis = axis_of(opening.out)
    beside = max(max(opening.box.low[i] - middle[i], middle[i] - opening.box.high[i]) for i in PLANE[axis])
    ahead = plane_of(start, opposite(opening.out)) - plane_of(opening.box, opening.out)
    if way != opening.out or beside > NEAR or ahead * sum(unit_vector(opening.out)) >= 0:
        message = f"{part.name} does not leave through {opening.name} towards {opening.out}"
        sheet.problem("assembly", site.name, message, max(beside, 0.0), "mm")


def _against(
    where: str,
    site: Site,
    sweep: Shape,
    hits: Sequence[Hit],
    in_the_way: list[tuple[str, Shape]],
    sheet: Sheet,
) -> None:
    for hit in hits:
        message = f"{where}: runs {hit.depth + TOLERANCE:.3f} mm into {hit.piece.name}"
        sheet.problem("assembly", site.name, message, hit.depth + TOLERANCE, "mm")
    for name, shape in in_the_way:
        if overlap(sweep, shape):
            depth = way_out(sweep, shape)[0] + TOLERANCE
            sheet.problem("assembly", site.name, f"{where}: runs {depth:.3f} mm into {name}", depth, "mm")


def _plus(at: Vec, way: Direction, distance: float) -> Vec:
    x, y, z = unit_vector(way)
    return (at[0] + x * distance, at[1] + y * distance, at[2] + z * distance)
