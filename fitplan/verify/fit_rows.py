"""The fit table: each *fits* by the places that show it, each *cannot fit* as far as boxes tell.

Rules, with their tolerances:

* there is a row for each candidate of each need that leaves a choice in each vehicle, and for each that was
  left out; none twice, none of what nobody asks for;
* what fits has places: its own and those of what must sit there anyway and has a place in the plan. They are
  checked like those of the plan itself: room, what is added, mounts, support;
* where a single solid of the part finds no place in the bricks with their play, every brick that may come out
  being out, *cannot fit* is confirmed; where a box round all of it, with its clearances, finds one beside
  what must sit there, it is refuted. The same box refutes that bricks must come out;
* what is missing, axis by axis, is missing: that much shorter the box round the part goes in, and `NEAR` less
  short it does not; the sizes in the words are those of the part in its pose;
* what a row says agrees with itself, its bricks may come out and cost what they cost, and a part that is
  placed does not fail to fit there.

That a part cannot fit which is neither confirmed nor refuted so is taken on trust, and so are the words of
why parts have no room together.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.proposed import HOLDING, FitRow
from fitplan.model.solids import AXES, ORIGIN, Box, Cylinder, Place, Solid, Vec, axis_of, bounds_of, plane_of
from fitplan.model.train import ADDED_WAGON, Train, TrainVehicle
from fitplan.verify.clear_room import ClearRoom
from fitplan.verify.fit import check_fit
from fitplan.verify.mounts import check_mounts
from fitplan.verify.over_faces import check_over_face
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, standing
from fitplan.verify.shelves import check_shelves
from fitplan.verify.zones import parts_keep_out

PLAY = 0.2
"""By how much n studs between two bricks are wider than drawn, in mm (common practice, no source)."""
NEAR = 0.35
"""What is told to be missing is so to this (mm): play, and tenths rounded either way."""
_SHOWN = "placed in exact millimetres and checked by code that knows no solver"
_AXES = ("length", "width", "height")


def check_fit_rows(plan: Plan, sheet: Tally, sites: Iterable[Site] = ()) -> None:
    """Check the fit table of a plan.

    ``sites``: vehicles whose bodies are cut into cells already.
    """
    table = _FitTable(plan, sheet, sites)
    seen: set[tuple[str, str, str]] = set()
    for row in plan.fit:
        sheet.count("rows of the fit table")
        key = (row.need, row.part_id, row.vehicle)
        if key in seen:
            sheet.problem("fit", _where(row), "stands in the fit table twice")
        seen.add(key)
        table.check(row)
    if plan.outcomes:
        for need, part_id, vehicle in _asked(plan):
            if (need, part_id, vehicle) not in seen:
                sheet.problem("fit", f"{part_id} in {vehicle}", f"is no row of the fit table; {need} asks it")
    sheet.trust(
        "that parts cannot fit", table.trusted, "each is a proof of its own; boxes neither confirm nor refute"
    )
    open_ = sum(row.verdict == "not decided" for row in plan.fit)
    sheet.trust("what the fit table leaves open", open_, "why it was not decided is not looked at")
    worded = sum(row.verdict == "cannot fit" for row in plan.fit)
    sheet.trust("words and proofs of what cannot fit", worded, "figures are held against the room, not words")


def _where(row: FitRow) -> str:
    return f"{row.part_id} in {row.vehicle}"


def _asked(plan: Plan) -> list[tuple[str, str, str]]:
    """Return the rows that a fit table must have."""
    left_out = {name for name, _ in plan.unplaced}
    found = []
    for need in plan.built.train.needs:
        if need.choice is None and need.name not in left_out:
            continue
        for entry in plan.built.train.vehicles:
            may = entry.name in ((need.bound_to,) if need.bound_to else need.vehicles or (entry.name,))
            if entry.name != ADDED_WAGON and (may or need.choice is not None):
                found += [(need.name, part.id, entry.name) for part in need.candidates]
    return found


class _FitTable:
    """What the rows of a plan's fit table are held against."""

    def __init__(self, plan: Plan, sheet: Tally, sites: Iterable[Site] = ()) -> None:
        self.trusted = 0
        self._plan = plan
        self._train: Train = plan.built.train
        self._sheet = sheet
        self._needs = {need.name: need for need in self._train.needs}
        self._vehicles = {entry.name: entry for entry in self._train.vehicles}
        self._placed = {(one.need, one.part.id, one.vehicle) for one in plan.built.placements}
        self._sites = {(site.name, site.removed): site for site in sites}
        self._rooms: dict[tuple[object, ...], ClearRoom] = {}

    def check(self, row: FitRow) -> None:
        """Check one row."""
        where, sheet = _where(row), self._sheet
        need = self._needs.get(row.need)
        part = next((one for one in need.candidates if one.id == row.part_id), None) if need else None
        if need is None or part is None:
            sheet.problem("fit", where, f"is not what {row.need} asks for")
            return
        entry = self._vehicles.get(row.vehicle)
        if entry is None and row.vehicle != ADDED_WAGON:
            sheet.problem("fit", where, "is in no vehicle of the train")
            return
        _in_itself(row, where, sheet)
        if (row.need, row.part_id, row.vehicle) in self._placed and row.verdict not in HOLDING:
            sheet.problem("fit", where, f"is placed there, and the fit table says {row.verdict}")
        if entry is None:
            sheet.trust("fit of a wagon that is not there", 1, "the plan does not add it")
            return
        _bricks(row, entry, where, sheet)
        if row.verdict in HOLDING:
            self._places(row, need, entry, where)
        free = not (need.looks or need.sits or need.pinned)
        if free and row.verdict in ("cannot fit", "fits after a rebuild") and self._box_goes_in(row, part):
            what = "the box round it goes in" + (" as it is" if row.verdict in HOLDING else "")
            sheet.problem("fit", where, f"is said to be {row.verdict!r}; {what}")
        if row.verdict == "cannot fit":
            self.trusted += not self._no_solid_goes_in(row, part)
        if row.pose:
            self._shortage(row, need, part, where)

    # -- what fits -----------------------------------------------------------------------------------------

    def _places(self, row: FitRow, need: Need, entry: TrainVehicle, where: str) -> None:
        sheet = self._sheet
        said = {one.need: one for one in row.places}
        if row.need not in said or said[row.need].part_id != row.part_id:
            sheet.problem("fit", where, "is said to fit, and no place shows it")
            return
        for one in self._plan.built.placements:
            if one.vehicle == row.vehicle and self._must_sit(one.need, row) and one.need not in said:
                sheet.problem("fit", where, f"is said to fit, not beside {one.need}, which sits there")
        placements, needs = [], {}
        for place in row.places:
            other = self._needs.get(place.need)
            found = (
                next((one for one in other.candidates if one.id == place.part_id), None) if other else None
            )
            if other is None or found is None:
                sheet.problem("fit", where, f"stands beside {place.part_id}, which {place.need} does not ask")
                continue
            needs[other.name] = replace(other, vehicles=()) if other is need else other
            placements.append(
                Placement(other.name, found, row.vehicle, place.place, "", place.shelf, place.steady)
            )
        if len(said) != len(row.places):
            sheet.problem("fit", where, "has two places for one part")
        site = self._site(entry, frozenset(row.remove)).holding(tuple(map(standing, placements)))
        own = Tally()
        check_fit(site, own)
        check_shelves(site, own)
        check_mounts(site, needs, own)
        whole = [name for name, one in needs.items() if one.pinned is not None and one.pinned.is_whole]
        parts_keep_out(site, whole, own)
        sheet.count("places of the fit table", len(placements))
        for problem in own.report().problems:
            message = f"is said to fit; where it would lie, {problem.message}"
            sheet.problem("fit", where, message, problem.figure, problem.unit)

    def _must_sit(self, name: str, row: FitRow) -> bool:
        """Return whether a need has one part and one vehicle to go into, whatever is chosen."""
        need = self._needs.get(name)
        if need is None or name == row.need or len(need.candidates) != 1:
            return False
        homes = (need.bound_to,) if need.bound_to else need.vehicles
        return homes == (row.vehicle,)

    # -- what does not -------------------------------------------------------------------------------------

    def _site(self, entry: TrainVehicle, removed: frozenset[str]) -> Site:
        key = (entry.name, removed)
        if key not in self._sites:
            self._sites[key] = Site(entry, removed, ())
        return self._sites[key]

    def _room(self, row: FitRow, taken: tuple[Box, ...], *, out: bool, strict: bool) -> ClearRoom:
        """Return the room of a row's vehicle as it is, or with all bricks out that may come out."""
        entry = self._vehicles[row.vehicle]
        taken += tuple(zone.box for zone in entry.vehicle.zones if zone.shuts_out(row.need))
        removed = frozenset(brick.name for brick in entry.vehicle.removables) if out else frozenset()
        key = (row.vehicle, taken, removed, strict)
        if key not in self._rooms:
            body = self._site(entry, removed).body
            hull = entry.vehicle.hull if strict else body.hull
            self._rooms[key] = ClearRoom(body, hull, strict=strict, taken=taken)
        return self._rooms[key]

    def _box_goes_in(self, row: FitRow, part: Part) -> bool:
        """Return whether a box round a part and its clearances surely goes in beside what must sit there."""
        must = [need.name for need in self._train.needs if self._must_sit(need.name, row)]
        there = [
            one for one in self._plan.built.placements if one.vehicle == row.vehicle and one.need in must
        ]
        if len(there) != len(must):
            return False
        taken = tuple(box for one in there for box in self._taken(one))
        room = self._room(row, taken, out=row.verdict == "cannot fit", strict=True)
        solids = [*part.envelope, *(one.solid for one in part.clearances if one.needed == "always")]
        return any(room.holds(size) for size in _sizes(part, solids))

    def _taken(self, placement: Placement) -> list[Box]:
        """Return boxes round what a part fills and keeps clear, and before a lens all the way out."""
        place, part = placement.place, placement.part
        clear = [one.solid for one in part.clearances if one.needed == "always"]
        found = [place.move_solid(solid).bounds for solid in (*part.envelope, *clear)]
        need = self._needs[placement.need]
        if need.looks is not None and part.mount.looks is not None:
            lens = place.move_solid(part.mount.lens or part.bounds).bounds
            out = place.pose.turn_direction(part.mount.looks)
            hull = self._vehicles[placement.vehicle].vehicle.hull
            axis, end = axis_of(out), plane_of(hull, out)
            found.append(lens.with_span(axis, min(lens.low[axis], end), max(lens.high[axis], end)))
        return found

    def _no_solid_goes_in(self, row: FitRow, part: Part) -> bool:
        """Return whether some solid of a part surely has no place, all bricks out and with their play."""
        room = self._room(row, (), out=True, strict=False)
        return any(
            not any(room.holds((x - PLAY, y - PLAY, z)) for x, y, z in _sizes(part, [inner]))
            for solid in part.envelope
            if (inner := _box_within(solid)) is not None
        )

    def _shortage(self, row: FitRow, need: Need, part: Part, where: str) -> None:
        """Hold what is said to be missing against the room."""
        sheet = self._sheet
        pose = next((one for one in part.mount.allowed_poses() if one.name == row.pose), None)
        if pose is None:
            sheet.problem("fit", where, f"comes closest in the pose {row.pose}, in which it may not stand")
            return
        if "in its window" in row.reason:
            self._past_window(row, need, part, where)
            return
        at = need.pinned.offset if need.pinned is not None else None
        if at is not None and f"where {need.name} is fixed" in row.reason:
            self._where_fixed(row, need, at, where)
            return
        if "over the face" in row.reason:
            check_over_face(row, need, part, self._vehicles[row.vehicle], self._sheet)
            return
        lacks = {axis: float(mm) for mm, axis in re.findall(r"([\d.]+) mm of (\w+)", row.reason)}
        told = re.search(r"takes ([\d.]+) × ([\d.]+) × ([\d.]+) mm", row.reason)
        size = Place(pose, ORIGIN).move_solid(part.bounds).bounds.size
        sheet.count("what is missing, axis by axis")
        if told is None or any(abs(float(a) - b) > 0.051 for a, b in zip(told.groups(), size, strict=True)):
            sheet.problem("fit", where, "is said to take other room than it does in that pose")
            return
        clear = re.search(r"has ([\d.]+) × ([\d.]+) × ([\d.]+) mm clear", row.reason)
        short = [lacks.get(axis, 0.0) for axis in _AXES]
        if clear is None or any(
            mm and abs(taken - mm - float(there)) > 0.11
            for mm, taken, there in zip(short, size, clear.groups(), strict=True)
        ):
            sheet.problem("fit", where, "what is missing is not what it takes less what is clear")
        if max(short) != row.missing_mm or _AXES[short.index(max(short))] != row.axis:
            sheet.problem("fit", where, f"lacks {max(short):g} mm, its figure says {row.missing_mm:g}")
        wide = self._room(row, (), out=True, strict=False)
        x, y, z = (max(edge - mm, 0.01) for edge, mm in zip(size, short, strict=True))
        if not wide.holds((x - PLAY, y - PLAY, z - 0.1)):
            sheet.problem("fit", where, "does not go in either with what is said to be missing")
        longer = [x, y, z]
        longer[short.index(max(short))] += NEAR
        if self._room(row, (), out=True, strict=True).holds(longer):
            sheet.problem("fit", where, f"lacks less than {row.missing_mm:g} mm", row.missing_mm, "mm")

    def _where_fixed(self, row: FitRow, need: Need, at: Vec, where: str) -> None:
        """Hold that a part runs into something where it is fixed, and not at the place named as nearest."""
        self._sheet.count("fixed places")
        pose = next(one for one in need.candidates[0].mount.allowed_poses() if one.name == row.pose)
        if self._is_free(row, need, Place(pose, at)):
            self._sheet.problem("fit", where, "is said to run into something where it is fixed; it does not")
        named = re.search(r"offset \[(-?[\d.]+), (-?[\d.]+), (-?[\d.]+)\]", row.reason)
        if named is None:
            return
        near = (float(named[1]), float(named[2]), float(named[3]))
        away = [abs(a - b) for a, b in zip(near, at, strict=True)]
        if not self._is_free(row, need, Place(pose, near)):
            self._sheet.problem("fit", where, "is not free at the place that is named as the nearest")
        if abs(max(away) - row.missing_mm) > 0.051 or _AXES[away.index(max(away))] != row.axis:
            message = f"is {max(away):.1f} mm away from the nearest place, its figure says {row.missing_mm:g}"
            self._sheet.problem("fit", where, message, max(away), "mm")

    def _is_free(self, row: FitRow, need: Need, place: Place) -> bool:
        """Return whether a part runs into nothing of the body with every removable brick out."""
        entry = self._vehicles[row.vehicle]
        out = frozenset(brick.name for brick in entry.vehicle.removables)
        part = next(one for one in need.candidates if one.id == row.part_id)
        there = standing(Placement(need.name, part, row.vehicle, place, ""))
        own = Tally()
        check_fit(self._site(entry, out).holding((there,)), own)
        return not own.report().problems

    def _past_window(self, row: FitRow, need: Need, part: Part, where: str) -> None:
        vehicle = self._vehicles[row.vehicle].vehicle
        window = next((one for one in vehicle.windows if (row.vehicle, one.name) == need.looks), None)
        pose = next(one for one in part.mount.allowed_poses() if one.name == row.pose)
        self._sheet.count("what is missing in windows")
        if window is None:
            self._sheet.problem("fit", where, "lacks room in a window that it does not look out of")
            return
        lens = Place(pose, ORIGIN).move_solid(part.mount.lens or part.bounds).bounds.size
        lacks = [(lens[i] - window.box.size[i], _AXES[i]) for i in range(3) if i != axis_of(window.out)]
        if abs(max(lacks)[0] - row.missing_mm) > 0.051 or max(lacks)[1] != row.axis:
            message = f"lacks {max(lacks)[0]:.1f} mm of {max(lacks)[1]} in its window"
            self._sheet.problem("fit", where, message, max(lacks)[0], "mm")


def _bricks(row: FitRow, entry: TrainVehicle, where: str, sheet: Tally) -> None:
    bricks = {item.name: item.cost for item in entry.vehicle.removables}
    for name in sorted(set(row.remove) - set(bricks)):
        sheet.problem("fit", where, f"takes out {name}, which is no removable brick")
    cost = sum(bricks.get(name, 0.0) for name in row.remove)
    if abs(cost - row.cost) > 1e-6:
        sheet.problem("fit", where, f"says it costs {row.cost:g}; its bricks cost {cost:g}", cost, "")
    if len(set(row.remove)) != len(row.remove):
        sheet.problem("fit", where, "takes a brick out twice")


def _in_itself(row: FitRow, where: str, sheet: Tally) -> None:
    """Check that what a row says agrees with itself."""
    fits = row.verdict in HOLDING
    if fits and (row.missing_mm or row.axis or row.pose):
        sheet.problem("fit", where, f"fits, and {row.missing_mm:g} mm are missing", row.missing_mm, "mm")
    if fits and (row.verdict == "fits after a rebuild") != bool(row.remove):
        sheet.problem("fit", where, f"is {row.verdict} with {len(row.remove)} bricks out")
    if fits and row.proof != _SHOWN:
        sheet.problem("fit", where, f"rests on {row.proof or 'nothing'}; expected: {_SHOWN}")
    wanted = f"take out {', '.join(row.remove)}" if row.remove else ""
    if fits and row.reason != wanted:
        sheet.problem("fit", where, f"fits, and its words are {row.reason!r}; expected {wanted!r}")
    if not fits and (row.places or row.remove):
        sheet.problem("fit", where, f"is {row.verdict}, and has a place or a rebuild")
    if row.verdict == "cannot fit" and not (row.reason and row.proof):
        sheet.problem("fit", where, "cannot fit, and nothing is said of why, or of what that rests on")
    if row.verdict == "not decided" and not row.reason:
        sheet.problem("fit", where, "is not decided, and nothing is said of what is open")
    if row.missing_mm < 0 or (row.missing_mm > 0) != bool(row.axis) or (row.pose and not row.axis):
        what = f"{row.missing_mm:g} mm are missing along {row.axis or 'no axis'}"
        sheet.problem("fit", where, what, row.missing_mm, "mm")
    told = [float(mm) for mm in re.findall(r"(\d+(?:\.\d+)?) mm", row.reason)]
    if row.missing_mm and told and all(abs(mm - row.missing_mm) > 0.051 for mm in told):
        message = f"{row.missing_mm:g} mm are missing; its reason says {told[0]:g} mm"
        sheet.problem("fit", where, message, abs(told[0] - row.missing_mm), "mm")
    if row.verdict == "cannot fit" and not row.missing_mm and re.search(r"\d mm .*missing", row.reason):
        sheet.problem("fit", where, "something is missing, as its reason says, and its figure is 0")


def _sizes(part: Part, solids: Sequence[Solid]) -> set[Vec]:
    """Return the sizes of a box round solids of a part in all poses that its mount allows."""
    found = set()
    for pose in part.mount.allowed_poses():
        x, y, z = bounds_of(tuple(Place(pose, ORIGIN).move_solid(solid) for solid in solids)).size
        found.add((round(x, 6), round(y, 6), round(z, 6)))
    return found


def _box_within(solid: Solid) -> Box | None:
    """Return a box inside a solid; None where its form tells none at once."""
    if isinstance(solid, Box):
        return solid
    if not isinstance(solid, Cylinder):
        return None
    axis = AXES.index(solid.axis)
    low, high = list(solid.bounds.low), list(solid.bounds.high)
    for i in range(3):
        if i != axis:
            middle, half = (low[i] + high[i]) / 2, (high[i] - low[i]) / 2 / 2**0.5
            low[i], high[i] = middle - half, middle + half
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
