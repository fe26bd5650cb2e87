"""Access: what must be reached, shut in before the remedy and open after it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.access import access_room, best_reach, check_access
from fitplan.model.part import Access, Clearance, Part
from fitplan.model.plan import BuiltTrain, Finding, Harness, Placement
from fitplan.model.solids import Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from tests.circuit.sample_parts import box, need, part, train, vehicle

ROOF = BodySolid(box(8, 8, 60, 168, 40, 67.2), "fixed")
HATCH = Opening("hood roof", box(40, 8, 60, 120, 40, 67.2), "+z", True)


def closed(*openings: Opening, more: tuple[BodySolid, ...] = ()) -> Vehicle:
    """A tray with a lid all over, of which openings lift off."""
    return vehicle(body=(*vehicle().body, ROOF, *more), openings=openings)


def holder(often: bool = True, side: str = "+z") -> Part:
    access = (Access("cells", "cells", side, often),)  # type: ignore[arg-type]
    return replace(part("holder", size=(40, 20, 15)), access=access)


def run(shape: Vehicle, one: Part, offset: Vec = (60.0, 14.0, 20.0), *others: Placement) -> BuiltTrain:
    places = (Placement("cells", one, "v", Place(pose_named("+x+y+z"), offset), "body"), *others)
    made = train([need(p.need, p.part) for p in places], [], [TrainVehicle("v", shape)])
    return BuiltTrain(made, places, Harness(), ())


def finding(built: BuiltTrain) -> Finding:
    (one,) = check_access(built).findings
    return one


def test_cells_under_a_fixed_roof() -> None:
    """Cells under a roof that does not lift are a stop; with a hatch above they are reached through it."""
    stop = finding(run(closed(), holder()))
    assert (stop.severity, stop.figure, stop.limit) == ("stop", 0.0, 50.0)
    assert "body is in the way" in stop.message
    note = finding(run(closed(HATCH), holder()))
    assert note.severity == "note"
    assert note.figure == 100.0
    assert "through hood roof" in note.message


def test_beside_the_hatch() -> None:
    """Cells half beside the hatch are open by just the share that lies under it."""
    beside = run(closed(HATCH), holder(), (110.0, 14.0, 20.0))  # 10 of 40 mm under the hatch
    assert finding(beside).severity == "stop"
    assert finding(beside).figure == pytest.approx(25.0, abs=1.0)


def test_what_is_used_often_needs_an_opening_that_opens_often() -> None:
    """A hatch that opens only when building serves a console, not cells that are changed."""
    rare = replace(HATCH, often=False)
    assert finding(run(closed(rare), holder())).severity == "stop"
    assert finding(run(closed(rare), holder(often=False))).severity == "note"


def test_another_part_on_top() -> None:
    """A part that lies on the cells shuts them in, hatch or no hatch; moved aside it does not."""
    lid = part("board", size=(45, 24, 4))

    def with_board(x: float) -> BuiltTrain:
        place = Placement("board", lid, "v", Place(pose_named("+x+y+z"), (x, 12.0, 40.0)), "cells")
        return run(closed(HATCH), holder(), (60.0, 14.0, 20.0), place)

    stop = finding(with_board(58.0))
    assert stop.severity == "stop"
    assert "board is in the way" in stop.message
    assert finding(with_board(10.0)).severity == "note"


def test_a_socket_is_reached_from_above_by_its_plug_room() -> None:
    """A socket that faces along the body is reached when the room for its plug is open from above."""
    plug = Clearance("USB plug", "plug", box(-25, 5, -2, -1, 15, 6), "access")
    socket = replace(
        part("board", size=(40, 20, 6)),
        access=(Access("USB socket", "console", "-x", False),),
        clearances=(plug,),
    )
    placement = run(closed(HATCH), socket, (70.0, 14.0, 24.0)).placements[0]
    room = access_room(placement, socket.access[0])
    assert (room.low, room.high) == ((45.0, 19.0, 22.0), (69.0, 29.0, 30.0))
    assert finding(run(closed(HATCH), socket, (70.0, 14.0, 24.0))).severity == "note"
    assert finding(run(closed(), socket, (70.0, 14.0, 24.0))).severity == "caution"
    reach = best_reach(run(closed(HATCH), socket, (70.0, 14.0, 24.0)), placement, socket.access[0])
    assert (reach.out, reach.openings) == ("+z", ("hood roof",))


def test_a_switch_in_a_gap_of_the_wall_needs_nothing_opened() -> None:
    """A switch that looks straight out of the body is reached with nothing opened."""
    gap = BodySolid(box(60, 40, 20, 100, 48, 40), "outside")
    access = (Access("switch", "switch", "+y", True),)
    one = replace(part("switch", size=(20, 6, 8)), access=access)
    note = finding(run(closed(more=(gap,)), one, (70.0, 33.0, 24.0)))
    assert note.severity == "note"
    assert "towards the left is 100 % open from the left" in note.message
    assert finding(run(closed(), one, (70.0, 33.0, 24.0))).severity == "stop"
