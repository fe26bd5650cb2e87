"""What is exchanged often, replayed: all that must come out first slides out, in the order that is named.

Cells come out as their part does; a switch or socket is got at when the room in front of it (`before_access`)
slides out as a finger or plug would: no farther in than a finger is long, never from behind, a plug along its
own axis with room for its cable.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.hands import CABLE_BEND_MM, FINGER_REACH_MM
from fitplan.model.needed import Need
from fitplan.model.solids import unit_vector
from fitplan.model.vehicle import Opening, open_side
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.verify.before_access import rooms_before
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site
from fitplan.verify.sliding import Mover, slide_out


def check_exchanges(
    built: BuiltTrain, sites: dict[str, Site], findings: tuple[Finding, ...], sheet: Tally
) -> None:
    """Replay how everything that is exchanged is come by, and hold it against what the user allows."""
    needs = {need.name: need for need in built.train.needs}
    parts = {part.name: (site, part) for site in sites.values() for part in site.parts}
    named = [(entry.need, entry.access) for entry in built.exchanged]
    for name, (site, part) in parts.items():
        if name in needs:
            for access in _must_be_reached(needs[name], part):
                sheet.count("what must be reached")
                if named.count((name, access)) != 1:
                    message = f"how {access} of {name} is come by is not said exactly once"
                    sheet.problem("exchange", site.name, message)
    told = {found.where for found in findings if found.subject == "access" and found.severity == "stop"}
    for entry in built.exchanged:
        if entry.need not in parts or entry.need not in needs:
            sheet.problem("exchange", entry.vehicle, f"{entry.need} is exchanged, but is nowhere")
            continue
        site, part = parts[entry.need]
        if site.name != entry.vehicle:
            sheet.problem("exchange", site.name, f"{entry.need} is here, not in {entry.vehicle}")
            continue
        _as_its_part(site, part, entry, needs[entry.need], sheet)
        _replay(site, part, entry, needs[entry.need], sheet)
        if entry.often and not entry.within(needs[entry.need]):
            if f"{entry.need} in {site.name}" in told:
                message = f"{entry.access} of {entry.need} is not come by as allowed, as the plan says"
                sheet.note("exchange", site.name, message)
            else:
                message = f"{entry.access} of {entry.need} is not come by as allowed, and no finding says so"
                sheet.problem("exchange", site.name, message)


def _must_be_reached(need: Need, part: PlacedPart) -> Iterator[str]:
    access = part.placement.part.access
    if need.exchange.wanted and not any(entry.often for entry in access):
        yield "the part itself"
    yield from (entry.name for entry in access)


def _as_its_part(site: Site, part: PlacedPart, entry: Exchanged, need: Need, sheet: Tally) -> None:
    """Check what is said of an access against the part: whether it is of everyday use, and of cells."""
    access = next((one for one in part.placement.part.access if one.name == entry.access), None)
    where = f"{entry.access} of {entry.need}"
    sheet.count("accesses as their parts have them")
    if access is None:
        if entry.access != "the part itself" or not need.exchange.wanted:
            sheet.problem("exchange", site.name, f"{where}: the part has no such access")
        return
    if entry.often != access.often:
        word = "everyday use" if access.often else "building"
        sheet.problem("exchange", site.name, f"{where}: is reached in {word}, as its part says")
    if entry.cells != (access.kind == "cells"):
        sheet.problem(
            "exchange", site.name, f"{where}: is {'cells' if access.kind == 'cells' else 'no cells'}"
        )


def _replay(site: Site, part: PlacedPart, entry: Exchanged, need: Need, sheet: Tally) -> None:
    where = f"{entry.access} of {entry.need}"

    def wrong(message: str) -> None:
        sheet.problem("exchange", site.name, f"{where}: {message}")

    removable = {brick.name for brick in site.vehicle.removables} - site.removed
    if not set(entry.bricks) <= removable:
        wrong(f"{', '.join(sorted(set(entry.bricks) - removable))}: no brick that can come out")
        return
    if entry.last is None:
        if entry.reached:
            wrong("is said to be reached, and no way is given")
        return
    without = Site(site.entry, site.removed | set(entry.bricks), site.parts) if entry.bricks else site
    openings = {opening.name: opening for opening in _usable(site, entry, need)}
    inside = {other.name: other for other in site.parts}
    for way in (*entry.first, entry.last):
        sheet.count("ways out replayed")
        opening = openings.get(way.opening) or open_side(site.vehicle, way.opening)
        if opening is None and (way.opening or way.parts):
            wrong(f"{way.opening!r} is not to be opened for it")
            return
        if not set(way.parts) <= set(inside):
            wrong(f"{', '.join(way.parts)}: not all of it is in when it comes out")
            return
        mover = _mover(part, entry, way, inside)
        if mover is None:
            wrong(f"no access of {part.placement.part.id}")
            return
        shelves = list(inside)
        for name in way.parts:
            del inside[name]
        for other in inside.values():
            if other.placement.carried_by in way.parts:
                wrong(f"{other.name} still lies on what comes out")
        if not way.parts:
            _by_hand(part, entry, way, wrong)
        slide_out(without, mover, way.moves, list(inside.values()), shelves, opening, sheet, "exchange")
    if entry.cells and part.name in inside:
        wrong("does not come out")


def _by_hand(part: PlacedPart, entry: Exchanged, way: WayOut, wrong: Callable[[str], None]) -> None:
    """Check that a hand outside can do it: how far in, from which side, and with the plug's cable."""
    access = next((one for one in part.placement.part.access if one.name == entry.access), None)
    if access is None or not way.moves:
        return
    side = unit_vector(part.placement.place.pose.turn_direction(access.side))
    towards = [
        sum(a * b for a, b in zip(unit_vector(heading), side, strict=True)) for heading, _ in way.moves
    ]
    far = sum(distance for _, distance in way.moves)
    plug = access.kind in ("socket", "console")
    rooms = [shape.bounds for shape in rooms_before(part, access)]
    axis = [abs(step) for step in side].index(1)
    long = max(room.high[axis] for room in rooms) - min(room.low[axis] for room in rooms)
    reach = FINGER_REACH_MM + (long if plug else 0.0)
    if far > reach + 0.1:
        wrong(f"lies {far:.1f} mm in, and what gets at it reaches {reach:.1f} mm")
    if min(towards) < 0:
        wrong("is come by from behind")
    if plug and towards[0] < 1:
        wrong("a plug is drawn out along its own axis first")
    if plug and len(way.moves) > 1 and way.moves[0][1] < CABLE_BEND_MM - 0.1:
        wrong(f"its cable has {way.moves[0][1]:.1f} mm behind the plug to turn off, not {CABLE_BEND_MM:g}")


def _usable(site: Site, entry: Exchanged, need: Need) -> tuple[Opening, ...]:
    every = site.vehicle.openings
    if not entry.often:
        return every
    named = tuple(opening for opening in every if opening.name in need.exchange.openings)
    return named or tuple(opening for opening in every if opening.often)


def _mover(part: PlacedPart, entry: Exchanged, way: WayOut, inside: dict[str, PlacedPart]) -> Mover | None:
    if way.parts:
        shapes = tuple(shape for name in way.parts for shape in inside[name].envelope)
        return Mover(" with ".join(way.parts), shapes)
    access = next((one for one in part.placement.part.access if one.name == entry.access), None)
    if access is None:
        return None
    return Mover(f"what gets at {entry.access} of {entry.need}", tuple(rooms_before(part, access)))
