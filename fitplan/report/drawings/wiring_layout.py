"""Where everything stands in the wiring drawing: rows of the boxes, upright tracks, lanes of the trunk.

Tracks and lanes are given out by the left-edge rule (Hashimoto and Stevens 1971): each interval goes to the
first track that is free over its whole length, so that wires never lie on one another.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from fitplan.model.plan import Plan
from fitplan.model.wired import Wire, WireEnd
from fitplan.report.drawings.pdf import text_width
from fitplan.report.lists.connector_cavities import cavities

ROW = 4.4
BOX = 40.0
GAP = 5.0
TRACK = 3.0
MARGIN = 6.0
HEAD = 16.0
BREAK = 20.0
PLUG = 4.6
"""From the middle of a coupling to the middle of either plug's sign."""
_APART = 1.3
"""Between wires that meet at one pin."""
_FOREVER = 1e6
BoxKey: TypeAlias = tuple[str, str]
"""Kind and owner of a box."""
End: TypeAlias = tuple[int, int]
"""A wire's number, and 0 for its start or 1 for its end."""
BoxOrder: TypeAlias = Mapping[str, Sequence[BoxKey]]
"""By vehicle its boxes, from the top."""
Rows: TypeAlias = Mapping[BoxKey, Mapping[str, float]]
"""By box of a vehicle the height of each pin's row."""


class EndSpot(NamedTuple):
    """Where an end of a wire stands: the vehicle, the box in it, and the pin of that."""

    end: End
    vehicle: str
    box: BoxKey
    pin: str


@dataclass(frozen=True)
class BoxSpot:
    """A part's box or a splice: its upper and lower edge and the height of each pin's row."""

    kind: str
    owner: str
    top: float
    bottom: float
    rows: dict[str, float]


@dataclass
class VehicleColumn:
    """A vehicle's place in the drawing."""

    name: str
    boxes: list[BoxSpot]
    left: float = 0.0
    lead: float = 0.0
    tracks: int = 0

    @property
    def channel(self) -> float:
        """Where the upright tracks begin."""
        return self.left + BOX + self.lead

    @property
    def right(self) -> float:
        """Where the vehicle's part of the drawing ends."""
        return self.channel + (self.tracks + 1) * TRACK


@dataclass(frozen=True)
class DrawnWires:
    """What of the arrangement hangs on the wires alone, in whatever order the boxes stand.

    Attributes
    ----------
    names
        Vehicles from the left.
    lanes
        Lane in the trunk of each wire that goes along it.
    lead
        Room beside the boxes for what is written at pins, in mm.
    offsets
        By how much each end stands above or below the middle of its pin's row, where several meet.
    boxes
        By vehicle its boxes as they are numbered, with the pins of each from the top.
    spots
        Where each end stands that is at a box.
    stands
        By vehicle what stands in its channel: an end alone, or both of a wire within the vehicle.
    """

    names: tuple[str, ...]
    lanes: dict[int, int]
    lead: float
    offsets: dict[End, float]
    boxes: dict[str, dict[BoxKey, tuple[str, ...]]]
    spots: dict[End, EndSpot]
    stands: dict[str, list[tuple[EndSpot, ...]]]

    @classmethod
    def of(cls, plan: Plan) -> DrawnWires:
        """Return what the wires of a plan ask for; vehicles without wires are left out."""
        wired = {leg.vehicle for wire in plan.built.harness.wires for leg in wire.legs}
        names = [entry.name for entry in plan.built.train.vehicles if entry.name in wired or not wired][::-1]
        pins = list(wires_by_pin(plan).values())
        labels = [text_width(pin_label(wires), 2.4) for wires in pins]
        offsets: dict[End, float] = {}
        for wires in pins:
            apart = min(_APART, (ROW - 1.4) / max(1, len(wires) - 1))
            for place, (key, _) in enumerate(wires):
                offsets[key] = (place - (len(wires) - 1) / 2) * apart
        lead, lanes, boxes = 4.0 + max(labels, default=0.0), _lanes(plan, names), _boxes(plan)
        spots = {
            key: spot_of(key, end)
            for wire in plan.built.harness.wires
            for key, end in ends_of(wire)
            if end.kind != "connector" and end.vehicle in boxes
        }
        stands: dict[str, list[tuple[EndSpot, ...]]] = {name: [] for name in boxes}
        for wire in plan.built.harness.wires:
            both = tuple(spots[key] for key, _ in ends_of(wire) if key in spots)
            together = wire.number not in lanes and len(both) == 2
            for some in (both,) if together else ((spot,) for spot in both):
                stands[some[0].vehicle].append(some)
        return cls(tuple(names), lanes, lead, offsets, boxes, spots, stands)


@dataclass(frozen=True)
class DrawingLayout:
    """The whole arrangement; heights of lanes follow from ``foot``."""

    wires: DrawnWires
    columns: dict[str, VehicleColumn]
    uprights: dict[End, int]
    """Track of each end that stands in a channel."""
    lanes: dict[int, int]
    """Lane in the trunk of each wire that goes along it."""
    foot: float
    lane_count: int
    width: float
    height: float
    ends_in: dict[str, tuple[End, ...]]
    """The ends that stand in each vehicle's channel."""
    rows: dict[str, Rows]

    @property
    def cuts(self) -> tuple[float, ...]:
        """Where the drawing may be cut: in the middle of each coupling, from the left."""
        return tuple(column.right + BREAK / 2 for column in list(self.columns.values())[:-1])

    def lane_y(self, wire: int) -> float:
        """Return the height of a wire's lane."""
        return self.foot + (self.lanes[wire] + 0.5) * TRACK

    def track_x(self, vehicle: str, end: End) -> float:
        """Return where the upright piece of a wire's end stands."""
        return self.columns[vehicle].channel + (self.uprights[end] + 0.5) * TRACK

    def row_y(self, end: End) -> float:
        """Return the height of the row that a wire's end belongs to."""
        spot = self.wires.spots[end]
        return _row(self.rows[spot.vehicle], spot)


def wiring_layout(
    plan: Plan, order: BoxOrder | None = None, wires: DrawnWires | None = None
) -> DrawingLayout:
    """Return where everything stands, the front on the right; vehicles without wires are left out.

    Parameters
    ----------
    order
        Vehicle by vehicle the boxes from the top; usually parts as they are numbered, then splices.
    wires
        What hangs on the wires alone, where it is known.
    """
    wires = wires or DrawnWires.of(plan)
    names, lanes = wires.names, wires.lanes
    boxes = {name: _stacked(own, (order or {}).get(name, ())) for name, own in wires.boxes.items()}
    rows: dict[str, Rows] = {
        name: {(box.kind, box.owner): box.rows for box in own} for name, own in boxes.items()
    }
    uprights = {name: _uprights(stands, rows[name]) for name, stands in wires.stands.items()}
    columns: dict[str, VehicleColumn] = {}
    x = MARGIN
    for place, name in enumerate(names):
        tracks = max(uprights[name].values(), default=-1) + 1
        column = VehicleColumn(name, boxes[name], x, wires.lead, tracks)
        columns[name] = column
        x = column.right + (BREAK if place + 1 < len(names) else 0)
    foot = max((box.bottom for column in columns.values() for box in column.boxes), default=HEAD) + 6
    count = max(lanes.values(), default=-1) + 1
    height = foot + count * TRACK + 10
    every = {end: track for own in uprights.values() for end, track in own.items()}
    ends_in = {name: tuple(uprights[name]) for name in names}
    return DrawingLayout(wires, columns, every, lanes, foot, count, x + MARGIN, height, ends_in, rows)


def spot_of(key: End, end: WireEnd) -> EndSpot:
    """Return where an end of a wire stands."""
    box, pin = (("splice", end.owner), "") if end.kind == "splice" else (("part", end.owner), end.pin)
    return EndSpot(key, end.vehicle, box, pin)


def ends_of(wire: Wire) -> tuple[tuple[End, WireEnd], tuple[End, WireEnd]]:
    """Return both ends of a wire with their keys."""
    return ((wire.number, 0), wire.start), ((wire.number, 1), wire.end)


def wires_by_pin(plan: Plan) -> dict[tuple[str, str, str], list[tuple[End, Wire]]]:
    """Return the wires that meet at each pin, by vehicle, owner and pin."""
    found: dict[tuple[str, str, str], list[tuple[End, Wire]]] = defaultdict(list)
    for wire in plan.built.harness.wires:
        for key, end in ends_of(wire):
            if end.kind == "pin":
                found[end.vehicle, end.owner, end.pin].append((key, wire))
    return found


def pin_label(wires: list[tuple[End, Wire]]) -> str:
    """Return what is written at a pin: the numbers and colours of its wires, ``"4 BK"``, ``"1, 4 BK"``."""
    colours = dict.fromkeys(wire.colour for _, wire in wires)
    return "  ".join(
        f"{', '.join(str(wire.number) for _, wire in wires if wire.colour == colour)} {colour}"
        for colour in colours
    )


def _boxes(plan: Plan) -> dict[str, dict[BoxKey, tuple[str, ...]]]:
    """For each vehicle its boxes with their pins: parts as they are numbered, then splices."""
    used: dict[str, list[str]] = defaultdict(list)
    where: dict[str, str] = {}
    for wire in plan.built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind == "pin":
                where.setdefault(end.owner, end.vehicle)
                if end.pin not in used[end.owner]:
                    used[end.owner].append(end.pin)
    placed = {placement.need: placement for placement in plan.built.placements}
    for need, placement in placed.items():
        ranked = {pin.name: place for place, pin in enumerate(placement.part.pins)}
        used[need].sort(key=lambda pin: (ranked.get(pin, len(ranked)), pin))
    found: dict[str, dict[BoxKey, tuple[str, ...]]] = {}
    for entry in plan.built.train.vehicles:
        owners = [
            need for need, placement in placed.items() if placement.vehicle == entry.name and used[need]
        ]
        owners += [owner for owner, vehicle in where.items() if vehicle == entry.name and owner not in placed]
        found[entry.name] = {("part", owner): tuple(used[owner]) for owner in owners} | {
            ("splice", one.name): ("",) for one in plan.built.harness.splices if one.vehicle == entry.name
        }
    return found


def _stacked(boxes: Mapping[BoxKey, Sequence[str]], order: Sequence[BoxKey]) -> list[BoxSpot]:
    """Put a vehicle's boxes below one another: as ordered, others after them as they are numbered."""
    ranks = {key: rank for rank, key in enumerate(order)}
    y = HEAD
    stacked: list[BoxSpot] = []
    for kind, owner in sorted(boxes, key=lambda key: ranks.get(key, len(ranks))):
        if kind == "splice":
            y += 2.0 if stacked and stacked[-1].kind == "part" else 0.0
            stacked.append(BoxSpot("splice", owner, y, y + ROW, {"": y + ROW / 2}))
            y += ROW + 2
            continue
        pins = boxes[kind, owner]
        rows = {pin: y + ROW * (place + 1) + ROW / 2 for place, pin in enumerate(pins)}
        bottom = y + ROW * (len(pins) + 1) + 1
        stacked.append(BoxSpot("part", owner, y, bottom, rows))
        y = bottom + GAP
    return stacked


def _row(rows: Rows, spot: EndSpot) -> float:
    """Return the height of the row of a wire's end."""
    return rows.get(spot.box, {}).get(spot.pin, HEAD)


def _uprights(stands: Sequence[tuple[EndSpot, ...]], rows: Rows) -> dict[End, int]:
    """Give a track to each end that stands in a channel; both ends of a wire within one share theirs."""
    intervals: list[tuple[float, float, tuple[End, ...]]] = []
    for spots in stands:
        heights = [_row(rows, spot) for spot in spots]
        high = max(heights) if len(heights) > 1 else _FOREVER
        intervals.append((min(heights), high, tuple(spot.end for spot in spots)))
    found: dict[End, int] = {}
    # short ones first: they stay next to the boxes
    tracks: list[list[tuple[float, float]]] = []
    for low, high, keys in sorted(intervals, key=lambda item: (item[1] - item[0], item)):
        track = _first_free(tracks, low - 0.5, high + 0.5)
        for key in keys:
            found[key] = track
    return found


def _lanes(plan: Plan, names: list[str]) -> dict[int, int]:
    """Give a lane to each wire that leaves its vehicle; wires of one cavity go on in the same lane."""
    place = {name: position for position, name in enumerate(names)}
    chains: dict[int, int] = {}

    def root(number: int) -> int:
        while chains[number] != number:
            number = chains[number]
        return number

    spans: dict[int, tuple[float, float]] = {}
    for wire in plan.built.harness.wires:
        reach = [place[leg.vehicle] for leg in wire.legs if leg.vehicle in place]
        reach += [place[end.vehicle] for _, end in ends_of(wire) if end.vehicle in place]
        plugs = any(end.kind == "connector" for _, end in ends_of(wire))
        if reach and (plugs or min(reach) != max(reach)):
            chains[wire.number] = wire.number
            spans[wire.number] = (float(min(reach)), float(max(reach)))
    for crossing in plan.built.harness.crossings:
        for one, two in cavities(plan, crossing.name, crossing.ahead).values():
            if one is not None and two is not None and one.number in chains and two.number in chains:
                chains[root(two.number)] = root(one.number)
    joined: dict[int, tuple[float, float]] = {}
    for number, (low, high) in spans.items():
        other = joined.get(root(number), (low, high))
        joined[root(number)] = (min(low, other[0]), max(high, other[1]))
    tracks: list[list[tuple[float, float]]] = []
    lane = {
        number: _first_free(tracks, low, high)
        for low, high, number in sorted((*span, number) for number, span in joined.items())
    }
    return {number: lane[root(number)] for number in spans}


def _first_free(tracks: list[list[tuple[float, float]]], low: float, high: float) -> int:
    for place, taken in enumerate(tracks):
        for other_low, other_high in taken:
            if low <= other_high and other_low <= high:
                break
        else:
            taken.append((low, high))
            return place
    tracks.append([(low, high)])
    return len(tracks) - 1
