"""Wires through ports hardly higher than they are, or half covered: what a port lets through gets in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.clear import label_spaces
from fitplan.lattice.clear_radius import clear_squares
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Port, Vehicle
from fitplan.routing.map.behind_ports import DEEP, lift_aside, lift_behind
from fitplan.routing.map.vehicle_map import VehicleMap
from tests.packing.small_trains import hollow

WIRE_MM = 1.4


def _wagon(high: float, *stand: Box) -> tuple[Vehicle, Port]:
    """Return a wagon with one port in its front wall, so high (mm) and 4.8 mm wide."""
    wagon = hollow("wagon", 12, 6, 8)
    x1, floor = wagon.length, wagon.ports[0].box.low[2]
    port = Port("low hole", Box((x1 - 8.0, 21.6, floor), (x1, 26.4, floor + high)), "+x")
    solid = [BodySolid(wagon.ports[0].box, "fixed"), BodySolid(port.box, "free")]
    more = [BodySolid(box, "fixed") for box in stand]
    return replace(wagon, body=(*wagon.body, *solid, *more), ports=(port,)), port


def _leads_in(vehicle: Vehicle, port: Port) -> bool:
    map_ = VehicleMap.of("wagon", vehicle, (), frozenset())
    rooms, _ = label_spaces(map_.room(WIRE_MM, ()))
    mouth = {int(rooms[voxel]) for voxel in map_.mouth(port)} - {0}
    return int(rooms[map_.frame.index_of((40.0, 24.0, port.box.low[2] + 10.0))]) in mouth


@pytest.mark.parametrize("high", [1.9, 2.4, 3.2, 4.8])
def test_a_wire_gets_in_behind_a_low_port(high: float) -> None:
    """Straight behind the hole it has the room that it had in it: 1.4 mm goes through 1.9."""
    assert _leads_in(*_wagon(high))


def test_no_way_is_opened_where_a_wall_stands_behind() -> None:
    """A post 0.8 mm behind the hole, over all its width and more, lets 1.4 mm through nowhere."""
    _, port = _wagon(1.9)
    x = port.box.low[0]
    post = Box((x - 8.8, 8.0, port.box.low[2]), (x - 0.8, 40.0, port.box.low[2] + 9.6))
    assert not _leads_in(*_wagon(1.9, post))


@pytest.mark.parametrize(("channel", "leads"), [(2.4, True), (2.0, True), (0.8, False)])
def test_a_hole_that_is_half_covered_leads_on_beside_what_covers_it(channel: float, leads: bool) -> None:
    """A post right behind the hole leaves a part of its width: 1.4 mm goes through 2 mm, not through 0.8."""
    _, port = _wagon(4.8)
    (x, y, z), width = port.box.low, port.box.size[1]
    post = Box((x - 3.2, y - 8.0, z), (x, y + width - channel, z + 22.4))
    assert _leads_in(*_wagon(4.8, post)) is leads


@pytest.mark.parametrize(("gap", "leads"), [(3.2, True), (1.6, True), (1.3, False), (0.8, False)])
def test_a_hole_that_is_covered_leads_aside_in_the_gap_before_what_covers_it(gap: float, leads: bool) -> None:
    """A block over the whole hole, up to the roof: 1.4 mm turns aside in 1.6 mm, not in 1.3."""
    _, port = _wagon(4.8)
    (x, y, z), width = port.box.low, port.box.size[1]
    block = Box((x - gap - 3.2, y - 1.6, z), (x - gap, y + width + 1.6, z + 22.4))
    assert _leads_in(*_wagon(4.8, block)) is leads


@pytest.mark.parametrize(
    ("gap", "top", "leads"),
    [(0.8, 1.7, True), (1.6, 2.7, True), (1.6, 1.7, True), (0.8, 3.4, False), (0.0, 3.4, False)],
)
def test_past_a_stud_right_behind_a_hole_a_wire_gets_in(gap: float, top: float, leads: bool) -> None:
    """Slantwise between the edge of the hole, 3.9 mm up, and what stands behind: 2.0 mm, or under 1.4."""
    _, port = _wagon(3.9)
    x, y, z = port.box.low
    row = Box((x - gap - 4.8, y - 8.0, z), (x - gap, y + 12.8, z + top))
    assert _leads_in(*_wagon(3.9, row)) is leads


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_past_what_covers_a_part_of_a_hole_voxels_are_as_far_off_as_is_said(data: st.DataObject) -> None:
    """Beside the distance of each voxel's middle to every box, each worked out by itself."""
    tenths = st.integers(0, 60).map(lambda n: n / 10)
    _, port = _wagon(3.9)
    x, y, z = port.box.low
    posts = []
    for _ in range(data.draw(st.integers(1, 3))):
        gap, aside, up = (data.draw(tenths) for _ in range(3))
        low = (x - 0.8 - gap / 4, y - 3.0 + aside, z + up)
        posts.append(Box(low, (low[0] + 0.8, low[1] + 1.0 + data.draw(tenths) / 3, low[2] + 1.7)))
    wagon, port = _wagon(3.9, *posts)
    map_ = VehicleMap.of("wagon", wagon, (), frozenset())
    window = map_.port_window(port)
    behind = (slice(window[0].start - DEEP, window[0].start), *window[1:])
    goes_on = map_.free[behind].all(axis=0)
    plain = clear_squares(map_.free)
    squares = plain.copy()
    lift_aside(squares, map_.free, port, window, map_.frame, lambda: map_.exact.boxes)
    if goes_on.all() or not goes_on.any():
        return
    for cell in np.argwhere(map_.free[behind]) + [part.start for part in behind]:
        at = map_.frame.centers(cell[None])[0]
        off = min(
            float(np.linalg.norm(np.maximum(np.maximum(box[:3] - at, at - box[3:]), 0.0)))
            for box in map_.exact.boxes
        )
        told = int((2 * min(off, DEEP * 0.8) / 0.8) ** 2 + 1e-6)
        assert squares[tuple(cell)] == max(told, plain[tuple(cell)])


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_balls_of_what_is_raised_aside_have_room(data: st.DataObject) -> None:
    """In each voxel that is raised there is a point so far off all boxes, looked for on a grid of 0.05 mm."""
    tenths = st.integers(0, 40).map(lambda n: n / 10)
    _, port = _wagon(4.8)
    (x, y, z), width = port.box.low, port.box.size[1]
    gap = 0.9 + data.draw(tenths) / 4
    block = Box((x - gap - 3.2, y - data.draw(tenths), z), (x - gap, y + width + 0.5, z + 22.4))
    wagon, port = _wagon(4.8, block)
    map_ = VehicleMap.of("wagon", wagon, (), frozenset())
    before = map_.clear_squares.copy()
    before[...] = clear_squares(map_.free)
    squares = before.copy()
    lift_aside(squares, map_.free, port, map_.port_window(port), map_.frame, lambda: map_.exact.boxes)
    raised = np.argwhere(squares > before)
    off = np.stack(np.meshgrid(*[np.linspace(-0.4, 0.4, 17)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    boxes = map_.exact.boxes
    for voxel in raised[:: max(len(raised) // 40, 1)]:
        points = map_.frame.centers(voxel[None])[0] + off
        away = np.maximum(np.maximum(boxes[:, :3] - points[:, None], points[:, None] - boxes[:, 3:]), 0.0)
        best = np.sqrt((away**2).sum(axis=2)).min(axis=1).max()
        assert np.sqrt(squares[tuple(voxel)]) * map_.frame.pitch / 2 <= best + 1e-6


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_what_is_raised_is_as_far_off_everything_as_it_says(data: st.DataObject) -> None:
    """Distances behind the wall worked out voxel by voxel; beside them only the hole's own sides count."""
    tenths = st.integers(0, 100).map(lambda n: n / 10)
    _, port = _wagon(data.draw(st.sampled_from([1.9, 3.2, 6.4])))
    x, y, z = port.box.low
    posts = []
    for _ in range(data.draw(st.integers(0, 3))):
        low = (x - 0.8 - data.draw(tenths), y - 5.0 + data.draw(tenths), z + data.draw(tenths))
        posts.append(Box(low, (low[0] + 0.8, low[1] + 1.6 + data.draw(tenths), low[2] + 4.0)))
    wagon, port = _wagon(port.box.size[2], *posts)
    map_ = VehicleMap.of("wagon", wagon, (), frozenset())
    pitch, wall = map_.frame.pitch, map_.port_window(port)[0].start
    plain = clear_squares(map_.free)
    squares = plain.copy()
    lift_behind(squares, map_.free, port, map_.port_window(port), map_.frame)
    raised = np.argwhere(squares > plain)
    solid = np.argwhere(~map_.free[:wall])
    window = map_.port_window(port)
    for cell in raised:
        assert wall - DEEP <= cell[0] < wall
        assert map_.free[cell[0] : wall, cell[1], cell[2]].all()
        says = float(np.sqrt(squares[tuple(cell)])) * pitch / 2
        gaps = np.maximum(np.abs(solid - cell) - 0.5, 0.0)
        off = float(np.sqrt((gaps**2).sum(axis=1).min())) * pitch
        middle = map_.frame.centers(cell[None])[0]
        sides = min(
            min(middle[k] - port.box.low[k], port.box.high[k] - middle[k]) + pitch / 2 for k in (1, 2)
        )
        assert says <= sides + 1e-6
        whole = map_.free[cell[0] : wall, window[1], window[2]].all()
        assert whole or says <= off + 1e-6
