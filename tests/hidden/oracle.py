"""Shows that a hidden plan is one, by means that neither pack nor route.

Places: the independent checker holds them in exact millimetres. Ways in: boxes drawn straight out, in this
file. Wires: tubes through voxels (`flood`), the holes of ports by rows of circles. Which pin of a
controller serves which net is the matching's affair: it decides neither a place nor a way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from fitplan.model.built import BuiltTrain
from fitplan.model.part import Part
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Direction, Vec, bounds_of
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Harness
from fitplan.pins.matching import match_pins
from fitplan.routing.map.ends import ResolvedNet, resolve
from fitplan.units import STUD_HEIGHT
from fitplan.verify import verify
from tests.hidden.bodies import varied_draws
from tests.hidden.flood import Grid, Terminal, lay, row_high
from tests.hidden.trains import POWER_MM, SIGNAL_MM, Hidden, draws, long_draws

ABOUT_PLACES = frozenset(
    {"overlap", "body", "hull", "clearance", "mount", "view", "support", "need", "rebuild", "shelf"}
)
ASIDE = 12.0
"""What looks out of an end is drawn back so far before it is lifted out (mm)."""


@dataclass(frozen=True)
class Shown:
    """A hidden plan that was shown to be one: ``metres`` of wire inside its vehicles."""

    built: BuiltTrain = field(repr=False)
    metres: float


def first_shown(
    seed: int, difficulty: int, catalogue: Mapping[str, Part], *, varied: bool = False
) -> tuple[Hidden, Shown, list[str]]:
    """Return the first train of a seed whose plan is shown, and what could not be shown of those before.

    Parameters
    ----------
    varied
        Whether bodies are varied (`bodies`).
    """
    return _first((varied_draws if varied else draws)(seed, difficulty, catalogue))


def first_long(
    seed: int, vehicles: int, parts: int, catalogue: Mapping[str, Part]
) -> tuple[Hidden, Shown, list[str]]:
    """Return the same of a long train (`trains.long_draws`)."""
    return _first(long_draws(seed, vehicles, parts, catalogue))


def _first(drawn: Iterable[Hidden]) -> tuple[Hidden, Shown, list[str]]:
    without: list[str] = []
    for hidden in drawn:
        answer = shown(hidden)
        if isinstance(answer, Shown):
            return hidden, answer, without
        without.append(answer)
    raise AssertionError("no train could be drawn")


def shown(hidden: Hidden) -> Shown | str:
    """Return the hidden plan, or what could not be shown of it."""
    train = hidden.open_train or hidden.train
    parts = {need.name: need.candidates[0] for need in train.needs}
    match = match_pins(train, parts)
    if not match.complete:
        return "pins do not match"
    placements = tuple(
        Placement(need.name, need.candidates[0], *hidden.places[need.name], "floor", steady=False)
        for need in train.needs
    )
    rebuilds = tuple(
        Rebuild(entry.name, names, (), float(len(names)), float(len(names)), "not known")
        for entry in train.vehicles
        if (names := tuple(sorted(hidden.removed.get(entry.name, ()))))
    )
    built = BuiltTrain(train, placements, Harness(), match.uses, rebuilds)
    plan = Plan(built, "fits", (), (), (), (), (), ())
    for problem in verify(plan).problems:
        if problem.subject in ABOUT_PLACES:
            return f"{problem.subject}: {problem.where}: {problem.message}"
    for entry in train.vehicles:
        inside = [place for place in placements if place.vehicle == entry.name]
        stuck = _stuck(entry.vehicle, inside, hidden.removed.get(entry.name, frozenset()))
        if stuck:
            return f"no way in: {', '.join(stuck)}"
    nets, lost = resolve(built)
    if lost:
        return f"no pin: {lost[0]}"
    millimetres = 0.0
    for number, entry in enumerate(train.vehicles):
        lengths = _wired(entry, built, nets, number, hidden)
        if isinstance(lengths, str):
            return f"no way for wires in {entry.name}: {lengths}"
        millimetres += sum(lengths.values())
    return Shown(built, millimetres / 1000)


def _wired(
    entry: TrainVehicle, built: BuiltTrain, nets: Sequence[ResolvedNet], here: int, hidden: Hidden
) -> dict[str, float] | str:
    removed = hidden.removed.get(entry.name, frozenset())
    order = {one.name: number for number, one in enumerate(built.train.vehicles)}
    grid = _drawn(entry.vehicle, [p for p in built.placements if p.vehicle == entry.name], removed)
    front: Direction = "-x" if entry.turned else "+x"
    rear: Direction = "+x" if entry.turned else "-x"
    ports = {(port.out, port.box): grid.port(port.box, port.out) for port in entry.vehicle.ports}
    bare = _drawn(
        entry.vehicle, [p for p in built.placements if p.vehicle == entry.name], removed, studs=False
    )
    full = _overfull(entry.name, hidden, bare)
    if full:
        return full

    def port(side: Direction, net: str) -> Terminal:
        """Return the hole that a net takes at an end, and the room in it and in that of an inner wall."""
        hole = hidden.through.get((entry.name, side), {}).get(net)
        if hole is None:
            return next(terminal for (out, _), terminal in ports.items() if out == side)
        terminal = ports[side, hole]
        gate = hidden.gates.get((entry.name, side), {}).get(net)
        return terminal if gate is None else grid.passing(terminal, gate)

    wanted: dict[str, list[Terminal]] = {}
    for net in nets:
        at = [order[end.vehicle] for end in net.ends]
        terminals = []
        for end in net.ends:
            if end.vehicle != entry.name:
                continue
            pin = grid.pin(end.at, end.exit, end.places)
            if pin is None:
                return f"{end.owner} {end.pin} is walled in"
            terminals.append(pin)
        if at and min(at) < here <= max(at):
            terminals.append(port(front, net.net.name))
        if at and min(at) <= here < max(at):
            terminals.append(port(rear, net.net.name))
        if len(terminals) > 1:
            wanted[net.net.name] = terminals
    return lay(grid, wanted)


def _overfull(vehicle: str, hidden: Hidden, grid: Grid) -> str:
    """Return the hole in which the nets that are told to take it do not lie in rows; empty: none.

    Of a port that something stands close behind, its largest clear part counts; studs stand farther behind.
    """
    roles = {net.name: net.role for net in hidden.train.nets}
    for ways in (hidden.through, hidden.gates):
        for (name, side), taken in ways.items():
            for hole in dict.fromkeys(taken.values() if name == vehicle else ()):
                inside = [
                    SIGNAL_MM if roles[net] == "signal" else POWER_MM
                    for net, box in taken.items()
                    if box == hole
                ]
                wide, high = grid.clear_part(hole, side) if ways is hidden.through else hole.size[1:]
                if row_high(inside, wide) > high + 1e-6 and row_high(inside, high) > wide + 1e-6:
                    return f"the hole at {side} is too small for {len(inside)} wires"
    return ""


def _drawn(
    vehicle: Vehicle, placements: Sequence[Placement], removed: frozenset[str], *, studs: bool = True
) -> Grid:
    """Return a vehicle with its parts in it; studs are drawn, if at all, as a layer of their height."""
    grid = Grid.round(vehicle.hull)
    studded = studs and vehicle.floor_finish == "studded"
    for one in vehicle.body:
        box = bounds_of((one.solid,))
        if one.state == "free" or one.removable in removed:
            grid.draw(box, solid=False)
        else:
            high = box.high[2] + (STUD_HEIGHT if studded and not one.smooth else 0.0)
            grid.draw(Box(box.low, (box.high[0], box.high[1], high)), solid=True)
    if studded:
        for _, box in _studs(vehicle):
            grid.draw(box, solid=True)
    for built_in in vehicle.built_in:
        for solid in built_in.solids:
            grid.draw(bounds_of((solid,)), solid=True)
    for place in placements:
        for solid in place.part.envelope:
            grid.draw(bounds_of((place.place.move_solid(solid),)), solid=True)
        for clearance in place.part.clearances:
            if clearance.kind not in ("lead", "air"):
                grid.draw(bounds_of((place.place.move_solid(clearance.solid),)), solid=True)
    return grid


def _studs(vehicle: Vehicle) -> list[tuple[str, Box]]:
    """Return the floor of the cavity beside the strip as one box as high as studs."""
    cavity = bounds_of((vehicle.body[1].solid,))
    strip = bounds_of((vehicle.body[2].solid,))
    found = []
    for y0, y1 in ((cavity.low[1], strip.low[1]), (strip.high[1], cavity.high[1])):
        if y1 > y0:
            low, high = (cavity.low[0], y0, cavity.low[2]), (cavity.high[0], y1, cavity.low[2] + STUD_HEIGHT)
            found.append(("floor", Box(low, high)))
    return found


def _stuck(vehicle: Vehicle, placements: Sequence[Placement], removed: frozenset[str]) -> list[str]:
    """Return the parts that cannot be drawn out one after the other by straight moves of boxes."""
    walls = [
        bounds_of((one.solid,))
        for one in vehicle.body[2:]
        if one.state in ("fixed", "removable") and one.removable not in removed
    ]
    walls += [bounds_of((solid,)) for built_in in vehicle.built_in for solid in built_in.solids]
    cavity = bounds_of((vehicle.body[1].solid,))
    left = {place.need: _boxes(place) for place in placements}
    sides = [opening for opening in vehicle.openings if opening.out != "+z"]
    lids = [opening.box for opening in vehicle.openings if opening.out == "+z"]
    roofed = all(lid.size[:2] != cavity.size[:2] for lid in lids)
    for _ in range(len(left)):
        for need, boxes in left.items():
            others = [*walls, *(box for other, theirs in left.items() if other != need for box in theirs)]
            ways = _under(boxes, lids) if roofed else _MOVES[:3]
            if any(_free(boxes, moves, others, cavity, sides) for moves in (*ways, *_MOVES[3:])):
                del left[need]
                break
    return sorted(left)


_MOVES = (
    ((0.0, 0.0, 200.0),),
    ((ASIDE, 0.0, 0.0), (0.0, 0.0, 200.0)),
    ((-ASIDE, 0.0, 0.0), (0.0, 0.0, 200.0)),
    ((0.0, 200.0, 0.0),),
    ((0.0, -200.0, 0.0),),
)


def _under(boxes: Sequence[Box], lids: Sequence[Box]) -> Iterator[tuple[Vec, ...]]:
    """Yield moves along x to where boxes lie under a lid that is large enough for them, and up."""
    whole = bounds_of(tuple(boxes))
    for lid in lids:
        if whole.low[1] < lid.low[1] - 1e-6 or whole.high[1] > lid.high[1] + 1e-6:
            continue
        first, last = lid.low[0] - whole.low[0], lid.high[0] - whole.high[0]
        if first > last + 1e-6:
            continue
        aside = min(max(0.0, first), last)
        up = (0.0, 0.0, 200.0)
        yield (up,) if abs(aside) < 1e-6 else ((aside, 0.0, 0.0), up)


def _free(
    boxes: Sequence[Box],
    moves: Sequence[tuple[float, float, float]],
    others: Sequence[Box],
    cavity: Box,
    sides: Sequence[object],
) -> bool:
    """Tell whether boxes move freely; sideways only where a panel comes off."""
    here = list(boxes)
    for move in moves:
        if move[1] and not any(_through(here, move[1], side) for side in sides):
            return False
        after = [_moved(box, move) for box in here]
        swept = [bounds_of((a, b)) for a, b in zip(here, after, strict=True)]
        if any(_meet(box, other) for box in swept for other in others):
            return False
        here = after
        if len(moves) > 1 and move[0]:
            inside = all(
                box.low[0] >= cavity.low[0] - 1e-6 and box.high[0] <= cavity.high[0] + 1e-6 for box in here
            )
            if not inside:
                return False
    return len(moves) > 1 or bool(moves[0][1]) or _inside(boxes, cavity)


def _inside(boxes: Sequence[Box], cavity: Box) -> bool:
    return all(box.low[0] >= cavity.low[0] - 1e-6 and box.high[0] <= cavity.high[0] + 1e-6 for box in boxes)


def _through(boxes: Sequence[Box], way: float, side: object) -> bool:
    opening: Box = side.box  # type: ignore[attr-defined]
    out = 1.0 if side.out == "+y" else -1.0  # type: ignore[attr-defined]
    return way * out > 0 and all(
        box.low[0] >= opening.low[0] - 1e-6
        and box.high[0] <= opening.high[0] + 1e-6
        and box.low[2] >= opening.low[2] - 1e-6
        and box.high[2] <= opening.high[2] + 1e-6
        for box in boxes
    )


def _boxes(place: Placement) -> list[Box]:
    return [bounds_of((place.place.move_solid(solid),)) for solid in place.part.envelope]


def _moved(box: Box, by: tuple[float, float, float]) -> Box:
    low = tuple(a + b for a, b in zip(box.low, by, strict=True))
    high = tuple(a + b for a, b in zip(box.high, by, strict=True))
    return Box(low, high)  # type: ignore[arg-type]


def _meet(one: Box, other: Box) -> bool:
    return all(one.low[k] < other.high[k] - 1e-6 and other.low[k] < one.high[k] - 1e-6 for k in range(3))


def inner_length(built: BuiltTrain) -> float:
    """Return the wire of a plan inside its vehicles in metres: ways alone, without joints and allowances."""
    total = 0.0
    for wire in built.harness.wires:
        for leg in wire.legs:
            for a, b in zip(leg.points, leg.points[1:], strict=False):
                total += sum((p - q) ** 2 for p, q in zip(a, b, strict=True)) ** 0.5
    return total / 1000
