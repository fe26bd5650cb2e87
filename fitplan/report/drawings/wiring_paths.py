"""The ways of wires in the wiring drawing, how often they cross, and an order that crosses less."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain, combinations, pairwise, permutations

import numpy as np

from fitplan.model.plan import Plan
from fitplan.model.wired import Crossing, WireEnd
from fitplan.report.drawings.drawing import Point
from fitplan.report.drawings.wiring_layout import (
    BOX,
    PLUG,
    BoxKey,
    BoxOrder,
    DrawingLayout,
    End,
    ends_of,
    wiring_layout,
)

DOT = 6.0
"""How far a splice's dot stands inside the column of boxes, in mm."""
_MOST_WAYS = 40_000
"""So many ways of wires are drawn up at most while exchanges of tracks and lanes are tried."""


def ways(plan: Plan, layout: DrawingLayout) -> dict[int, list[Point]]:
    """Return the way of each wire, from its start to its end, in mm of the drawing."""
    offsets = layout.wires.offsets
    found: dict[int, list[Point]] = {}
    for wire in plan.built.harness.wires:
        if any(end.vehicle not in layout.columns for _, end in ends_of(wire)):
            continue
        one, two = (_piece(plan, layout, key, end, offsets.get(key, 0.0)) for key, end in ends_of(wire))
        found[wire.number] = one + two[::-1]
    return found


def count_crossings(plan: Plan, layout: DrawingLayout) -> int:
    """Return how often wires of different nets cross in the drawing."""
    nets = {wire.number: wire.net for wire in plan.built.harness.wires}
    names = {net: place for place, net in enumerate(dict.fromkeys(nets.values()))}
    level: list[float] = []
    upright: list[float] = []
    for number, way in ways(plan, layout).items():
        net = names[nets[number]]
        for (x0, y0), (x1, y1) in pairwise(way):
            if abs(y0 - y1) < 1e-6:
                level += (y0, min(x0, x1), max(x0, x1), net)
            else:
                upright += (x0, min(y0, y1), max(y0, y1), net)
    y, left, right, one = np.array(level).reshape(-1, 4).T[:, :, None]
    x, top, bottom, other = np.array(upright).reshape(-1, 4).T[:, None]
    meets = (left < x) & (x < right) & (top < y) & (y < bottom)
    return int(np.count_nonzero(meets & (one != other)))


def ordered_layout(plan: Plan) -> DrawingLayout:
    """Return the layout that is drawn: boxes, tracks and lanes in the best order of those tried.

    Descents begin with the boxes as they are numbered, and the other way round; the better end is taken.
    """
    first = wiring_layout(plan)
    turned = {name: [*reversed(boxes)] for name, boxes in box_order(first).items()}
    ends = [
        with_few_crossings(plan, with_boxes_in_order(plan, start))
        for start in (first, wiring_layout(plan, turned, first.wires))
    ]
    return min(ends, key=lambda end: count_crossings(plan, end))


def box_order(layout: DrawingLayout) -> dict[str, list[tuple[str, str]]]:
    """Return vehicle by vehicle the kinds and owners of the boxes, from the top."""
    return {name: [(box.kind, box.owner) for box in column.boxes] for name, column in layout.columns.items()}


def with_boxes_in_order(plan: Plan, layout: DrawingLayout) -> DrawingLayout:
    """Return the layout with boxes moved in their column, one at a time, while that crosses less."""
    order = box_order(layout)
    least = count_crossings(plan, layout)
    tried = {_in_a_row(order)}
    tries = 0
    better = True
    while better and least:
        better = False
        for name, boxes in order.items():
            for one, two in permutations(range(len(boxes)), 2):
                tries += 1
                if least == 0 or tries * len(plan.built.harness.wires) > _MOST_WAYS:
                    return layout
                moved = [box for place, box in enumerate(boxes) if place != one]
                moved.insert(two, boxes[one])
                turned = {**order, name: moved}
                if _in_a_row(turned) in tried:
                    continue  # it was no better when the best of all was worse
                tried.add(_in_a_row(turned))
                other = wiring_layout(plan, turned, layout.wires)
                count = count_crossings(plan, other)
                if count < least:
                    layout, least, better = other, count, True
                    boxes = order[name] = moved
    return layout


def _in_a_row(order: BoxOrder) -> tuple[BoxKey, ...]:
    return tuple(chain.from_iterable(order.values()))


def with_few_crossings(plan: Plan, layout: DrawingLayout) -> DrawingLayout:
    """Return the layout with its tracks and lanes exchanged, two at a time, as long as that crosses less.

    Any exchange is sound: wires of one track, or of one lane, stay together and never lie on one another.
    """
    least = count_crossings(plan, layout)
    tries = 0
    better = True
    while better:
        better = False
        for other in _exchanges(layout):
            tries += 1
            if least == 0 or tries * len(plan.built.harness.wires) > _MOST_WAYS:
                return layout
            count = count_crossings(plan, other)
            if count < least:
                layout, least, better = other, count, True
                break
    return layout


def _exchanges(layout: DrawingLayout) -> Iterator[DrawingLayout]:
    """Every exchange of two lanes, and of two tracks of a vehicle."""
    for one, two in combinations(range(layout.lane_count), 2):
        turned = {one: two, two: one}
        yield replace(layout, lanes={wire: turned.get(lane, lane) for wire, lane in layout.lanes.items()})
    for vehicle, ends in layout.ends_in.items():
        for one, two in combinations(range(layout.columns[vehicle].tracks), 2):
            turned = {one: two, two: one}
            moved = {end: turned.get(layout.uprights[end], layout.uprights[end]) for end in ends}
            yield replace(layout, uprights={**layout.uprights, **moved})


def coupling_middle(layout: DrawingLayout, crossing: Crossing) -> float:
    """Return where the middle between two vehicles is, in mm from the left."""
    return (layout.columns[crossing.behind].right + layout.columns[crossing.ahead].left) / 2


def _piece(plan: Plan, layout: DrawingLayout, key: End, end: WireEnd, offset: float) -> list[Point]:
    """Return the way of one end of a wire, from the pin inwards to the track, the lane or the plug."""
    number = key[0]
    if end.kind == "connector":
        return [(_plug_x(plan, layout, end), layout.lane_y(number))]
    column = layout.columns[end.vehicle]
    y = layout.row_y(key) + offset
    track = layout.track_x(end.vehicle, key)
    start = column.left + (BOX - DOT if end.kind == "splice" else BOX)
    way = [(start, y), (track, y)]
    if number in layout.lanes:
        way.append((track, layout.lane_y(number)))
    return way


def _plug_x(plan: Plan, layout: DrawingLayout, end: WireEnd) -> float:
    for crossing in plan.built.harness.crossings:
        if (
            crossing.name == end.owner
            and crossing.ahead in layout.columns
            and crossing.behind in layout.columns
        ):
            return coupling_middle(layout, crossing) + (PLUG if end.vehicle == crossing.ahead else -PLUG)
    return layout.columns[end.vehicle].right


def joined(plan: Plan) -> dict[int, list[tuple[End, WireEnd]]]:
    """Return the ends of wires at each splice, by the splice's place in the list."""
    found: dict[int, list[tuple[End, WireEnd]]] = defaultdict(list)
    places = {splice.name: place for place, splice in enumerate(plan.built.harness.splices)}
    for wire in plan.built.harness.wires:
        for key, end in ends_of(wire):
            if end.kind == "splice" and end.owner in places:
                found[places[end.owner]].append((key, end))
    return found
