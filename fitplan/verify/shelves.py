"""Whether what is added to carry a part has room, is made of pieces that exist, and stands on studs.

A piece may be entered by the studs that it stands on, and by nothing else. Bricks, plates and tiles are as
large as their names say, on the stud grid; each is joined to the one below it by a stud's cell at least, or
sits on the side of a brick with a stud there; a pad is thinner than a plate. What hangs is pressed to
undersides of bricks that do not lift off. What studs hold as levers: `levers`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from fitplan.model.facts import mass_of
from fitplan.model.placed import Piece, Shelf
from fitplan.model.solids import Box
from fitplan.units import BRICK, PLATE, STUD, STUD_HEIGHT
from fitplan.verify.levers import check_levers
from fitplan.verify.overlap import bounds_overlap, overlap, way_out
from fitplan.verify.result import Tally
from fitplan.verify.scene import BLOCKED, SOLID, TOLERANCE, PlacedPart, Site, core_of
from fitplan.verify.shapes import Disc, Prism, Shape

NEAR = 0.01
_LEAST_BLOCK = STUD - 0.2
"""What stands by itself is a stud's pitch wide, less the play of bricks (common practice, no source)."""
_LEAST_TAPE = 2.0
"""Strips of tape are no narrower (common practice, no source)."""
_TAPED_G = 20.0
"""Tape at its side holds a part up to so much (common practice, no source)."""
_NAME = re.compile(r"(brick|plate|tile|brick with a stud on its side) (\d+) × (\d+)")
_HEIGHTS = {"brick": BRICK, "plate": PLATE, "tile": PLATE, "brick with a stud on its side": BRICK}


def check_shelves(site: Site, sheet: Tally) -> None:
    """Check all that is added to a vehicle."""
    for part in site.parts:
        shelf = part.placement.shelf
        if shelf is None:
            continue
        sheet.count("shelves")
        _kind(site, part, shelf, sheet)
        seats = sum(_room(site, part.name, piece, sheet) for piece in shelf.pieces)
        _among_themselves(site, part.name, shelf, sheet)
        if shelf.kind in ("plates", "bracket", "clip", "bridge", "hanger"):
            for piece in shelf.pieces:
                _size(site, part.name, piece, sheet)
            if shelf.kind == "hanger":
                seats = _hung(site, part, shelf, sheet)
            if seats < 1 or seats != shelf.studs:
                message = f"what carries {part.name} is said to stand on {shelf.studs} studs"
                sheet.problem("shelf", site.name, f"{message}; it stands on {seats}", seats, "studs")
            _joined(site, part.name, shelf, sheet)
            check_levers(site, part, shelf, seats, sheet)


def _hung(site: Site, part: PlacedPart, shelf: Shelf, sheet: Tally) -> int:
    """Check what hangs, and return how many undersides of a roof that stays it is pressed to."""
    top = max(shelf.parts, key=lambda piece: piece.box.high[2]).box
    lids = [lid.box for lid in site.vehicle.openings]
    count = 0
    for i in range(round(top.low[0] / STUD), round(top.high[0] / STUD)):
        for j in range(round(top.low[1] / STUD), round(top.high[1] / STUD)):
            at = ((i + 0.5) * STUD, (j + 0.5) * STUD, top.high[2] + NEAR)
            lifts = any(all(lid.low[k] <= at[k] <= lid.high[k] for k in range(3)) for lid in lids)
            # It must end where the bricks begin: a hair above there is brick, a plate below there is none.
            if site.body.state_at(at) == "fixed" and not lifts:
                count += 1
    if not count:
        sheet.problem("shelf", site.name, f"what carries {part.name} hangs from no roof that stays")
        return 0
    return count


def _kind(site: Site, part: PlacedPart, shelf: Shelf, sheet: Tally) -> None:
    """Check that a shelf is called what it is made of, and that its pads touch the part."""
    named = {piece.name for piece in shelf.pieces}
    made = {"pad": {"pad"}, "wall": {"pad"}, "block": {"block"}}.get(shelf.kind, set())
    if (made and named != made) or (not made and not named - {"pad", "studs"}):
        message = f"what carries {part.name} is called {shelf.kind}; it is made of {', '.join(sorted(named))}"
        sheet.problem("shelf", site.name, message)
    if made and shelf.studs:
        message = f"the {shelf.kind} under {part.name} is said to stand on {shelf.studs} studs"
        sheet.problem("shelf", site.name, message, shelf.studs, "studs")
    if shelf.steady != part.placement.steady:
        sheet.problem("shelf", site.name, f"what carries {part.name} is said to be steady, or not, otherwise")
    hull = site.vehicle.hull
    for piece in shelf.pieces:
        sides = ((hull.low[i] - piece.box.low[i], piece.box.high[i] - hull.high[i]) for i in range(3))
        if (out := max(map(max, sides))) > NEAR:
            message = f"what carries {part.name} stands {out:.2f} mm out of the hull"
            sheet.problem("shelf", site.name, message, out, "mm")
    for piece in shelf.pieces if made else ():
        grown = Box(
            (piece.box.low[0] - NEAR, piece.box.low[1] - NEAR, piece.box.low[2] - NEAR),
            (piece.box.high[0] + NEAR, piece.box.high[1] + NEAR, piece.box.high[2] + NEAR),
        )
        if not any(overlap(grown, shape) for shape in part.envelope):
            sheet.problem("shelf", site.name, f"a {piece.name} under {part.name} does not touch it")
        if shelf.kind == "wall" and not _on_a_wall(site, piece):
            message = f"the tape beside {part.name} lies on no wall that stays"
            sheet.problem("shelf", site.name, message)
        if shelf.kind == "wall" and sorted(piece.box.size)[1] < _LEAST_TAPE - NEAR:
            message = f"the tape beside {part.name} is narrower than one can cut"
            sheet.problem("shelf", site.name, message, sorted(piece.box.size)[1], "mm")
        if shelf.kind == "block" and min(piece.box.size[:2]) < _LEAST_BLOCK - NEAR:
            message = f"the block under {part.name} is thinner than a stud's pitch: it would not stand"
            sheet.problem("shelf", site.name, message, min(piece.box.size[:2]), "mm")
    if shelf.kind == "wall" and mass_of(part.placement.part) > _TAPED_G:
        sheet.problem("shelf", site.name, f"{part.name} is too heavy for tape at its side")


def _on_a_wall(site: Site, piece: Piece) -> bool:
    """Return whether a pad lies flat on a brick along x or y that is not part of a lid."""
    for axis in (0, 1):
        low, high = list(piece.box.low), list(piece.box.high)
        low[axis], high[axis] = low[axis] - NEAR, high[axis] + NEAR
        grown = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        lifts = any(bounds_overlap(grown, lid.box) for lid in site.vehicle.openings)
        touched = [] if lifts else site.body.regions(grown, SOLID)
        if any(min(edge for i, edge in enumerate(one.size) if i != axis) > NEAR for one in touched):
            return True
    return False


def check_piece(site: Site, owner: str, piece: Piece, sheet: Tally) -> int:
    """Check one piece's size, grid and room; return how many studs go into it."""
    _size(site, owner, piece, sheet)
    return _room(site, owner, piece, sheet)


def _room(site: Site, owner: str, piece: Piece, sheet: Tally) -> int:
    """Check a piece against body and parts; return how many studs go into it."""
    core = core_of(piece.box)
    seats = 0
    for hit in site.body.hits(core, BLOCKED):
        if _is_seat(piece, hit.piece.shape):
            seats += 1
            continue
        name = f"{hit.piece.name} bricks" if hit.piece.name in SOLID else hit.piece.name
        message = f"the {piece.name} under {owner} runs into {name}"
        sheet.problem("shelf", site.name, message, hit.depth, "mm")
    for part in site.parts:
        if not bounds_overlap(piece.box, part.bounds):
            continue
        depths = [way_out(core, shape)[0] for shape in part.envelope if overlap(core, shape)]
        if depths:
            message = f"the {piece.name} under {owner} runs into {part.name}"
            sheet.problem("shelf", site.name, message, max(depths) + TOLERANCE, "mm")
    return seats


def _is_seat(piece: Piece, shape: object) -> bool:
    """Return whether a shape is a stud that a piece stands on."""
    if not (isinstance(shape, Prism) and shape.axis == 2 and isinstance(shape.profile, Disc)):
        return False
    x, y = shape.profile.center
    box = piece.box
    return (
        piece.name not in ("pad", "block", "studs")
        and abs(shape.bounds.low[2] - box.low[2]) < NEAR
        and box.low[0] < x < box.high[0]
        and box.low[1] < y < box.high[1]
    )


def _among_themselves(site: Site, owner: str, shelf: Shelf, sheet: Tally) -> None:
    for number, piece in enumerate(shelf.pieces):
        for other in shelf.pieces[number + 1 :]:
            if overlap(core_of(piece.box), core_of(other.box)):
                message = f"the {piece.name} and the {other.name} of what carries {owner} overlap"
                sheet.problem("shelf", site.name, message)
        for name, box in site.shelves:
            if name != owner and overlap(core_of(piece.box), core_of(box)):
                message = f"the {piece.name} of what carries {owner} runs into what carries {name}"
                sheet.problem("shelf", site.name, message)


def _size(site: Site, owner: str, piece: Piece, sheet: Tally) -> None:
    size = piece.box.size
    if piece.name == "pad":
        if min(size) >= PLATE:
            message = f"the pad under {owner} is as thick as a plate or thicker"
            sheet.problem("shelf", site.name, message, min(size), "mm")
        return
    if piece.name == "studs":
        if abs(size[2] - STUD_HEIGHT) > NEAR:
            sheet.problem("shelf", site.name, f"the studs under {owner} are {size[2]:.1f} mm high")
        return
    named = _NAME.fullmatch(piece.name)
    if named is None:
        sheet.problem("shelf", site.name, f"{piece.name!r} under {owner} is no brick, plate or tile")
        return
    kind, one, two = named[1], float(named[2]), float(named[3])
    edges = [one * STUD, two * STUD, _HEIGHTS[kind]]
    on_its_side = kind == "tile" and abs(size[2] - PLATE) > NEAR
    if any(abs(a - b) > NEAR for a, b in zip(sorted(size), sorted(edges), strict=True)):
        message = f"the {piece.name} under {owner} is {size[0]:.1f} × {size[1]:.1f} × {size[2]:.1f} mm"
        sheet.problem("shelf", site.name, message)
    elif not on_its_side and any(
        abs(value / STUD - round(value / STUD)) * STUD > NEAR
        for value in (*piece.box.low[:2], *piece.box.high[:2])
    ):
        sheet.problem("shelf", site.name, f"the {piece.name} under {owner} lies beside the stud grid")


def _joined(site: Site, owner: str, shelf: Shelf, sheet: Tally) -> None:
    """Check that each piece hangs together with the first, which stands on the body."""
    pieces = [piece for piece in shelf.pieces if piece.name not in ("pad", "studs")]
    held, waiting = pieces[:1], pieces[1:]
    while waiting:
        fresh = [piece for piece in waiting if any(_hold(piece, other) for other in held)]
        if not fresh:
            message = f"the {waiting[0].name} under {owner} is joined to nothing by studs"
            sheet.problem("shelf", site.name, message)
            return
        held += fresh
        waiting = [piece for piece in waiting if piece not in fresh]
    for piece in shelf.pieces:
        if piece.name == "studs" and not any(abs(piece.box.low[2] - one.box.high[2]) < NEAR for one in held):
            sheet.problem("shelf", site.name, f"the studs under {owner} are on no piece")


def _hold(piece: Piece, other: Piece) -> bool:
    """Return whether two pieces touch over a stud's cell, one on top of the other or on a side stud."""
    one, two = piece.box, other.box
    shared = [min(one.high[i], two.high[i]) - max(one.low[i], two.low[i]) for i in range(3)]
    if abs(shared[2]) < NEAR:
        return min(shared[:2]) > STUD - NEAR
    sides = "stud on its side" in piece.name or "stud on its side" in other.name
    touching = [axis for axis in (0, 1) if abs(shared[axis]) < NEAR]
    return sides and len(touching) == 1 and _area(shared, touching[0]) > STUD * STUD - NEAR


def _area(shared: Sequence[float], axis: int) -> float:
    across = [shared[i] for i in range(3) if i != axis]
    return across[0] * across[1] if min(across) > 0 else 0.0


def held_at_its_side(site: Site, owner: str, shape: Shape, reach: float) -> bool:
    """Return whether what was added for a part lies no further than ``reach`` from a flat side of it."""
    bounds = shape.bounds
    round_axis = shape.axis if isinstance(shape, Prism) and isinstance(shape.profile, Disc) else None
    for box in (box for name, box in site.shelves if name == owner):
        shared = [min(box.high[i], bounds.high[i]) - max(box.low[i], bounds.low[i]) for i in range(3)]
        for axis in (0, 1) if round_axis is None else {0, 1} & {round_axis}:
            if -reach <= shared[axis] <= TOLERANCE and _area(shared, axis) > 0:
                return True
    return False
