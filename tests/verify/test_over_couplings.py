"""What a wire is cut longer for over a coupling, and the room before what is exchanged, in closed form."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.part import Access, Clearance, Mount, Part
from fitplan.model.plan import Plan
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, axis_of, is_forward, pose_named
from fitplan.model.wired import PairDrawnIn, WireEnd
from fitplan.verify.before_access import rooms_before
from fitplan.verify.conductors import check_conductors
from fitplan.verify.scene import standing

from .lies import harness_with, problems, wire_with
from .two_vehicles import FLOOR, plan, put

SHARE, STRAIGHT = 0.1, 8.0


def over(free: float, more: float, at_connector: bool, **said: float) -> tuple[str, ...]:
    """What is said of wire 1 over a joint of this free length, whose pair is drawn in by so much.

    It passes the joint in one piece, or ends in its connector and has half of everything.
    """
    old: Plan = plan()
    pair = PairDrawnIn("loco", Box((9, 21, FLOOR), (19, 27, FLOOR + 4)), more)
    crossing = replace(old.built.harness.crossings[0], free_mm=free, pair=pair if more else None)
    old = harness_with(old, crossings=(crossing,))
    wire = next(one for one in old.built.harness.wires if one.number == 1)
    part = 0.5 if at_connector else 1.0
    longest = free - 2 * more
    slack = max(6.0, longest * SHARE / (1 + SHARE))
    amounts = {
        "curves at couplings": (longest - STRAIGHT - slack) * part,
        "slack at couplings": slack * part,
        "pair drawn in at couplings": 2 * more * part if at_connector else 0.0,
    }
    legs, end, bare = wire.legs, wire.end, wire.bare_mm
    if at_connector:
        legs = wire.legs[:1]
        end = WireEnd("connector", crossing.name, "1", "loco", legs[0].points[-1], 4.0)
    own = {what: mm for what, mm in wire.allowances if "couplings" not in what}
    inside = sum(
        sum((a - b) ** 2 for a, b in zip(p, q, strict=True)) ** 0.5
        for leg in legs
        for p, q in zip(leg.points, leg.points[1:], strict=False)
    )
    own["not taut"] = 0.04 * inside
    amounts = {**own, **amounts}
    for what, by in said.items():
        amounts[what.replace("_", " ")] += by
    made = wire_with(old, 1, legs=legs, end=end, allowances=tuple(amounts.items()), bare_mm=bare)
    told = problems(check_conductors, made.built, ())
    return tuple(p.message for p in told if p.where.startswith("wire 1 ") and "couplings" in p.message)


@pytest.mark.parametrize("at_connector", [False, True])
@pytest.mark.parametrize(("free", "more"), [(14.0, 0.0), (90.0, 0.0), (96.0, 8.0), (30.0, 8.0)])
def test_curves_slack_and_pairs_over_a_coupling(free: float, more: float, at_connector: bool) -> None:
    """The longest distance less the straight one, a tenth or 6 mm of slack, and twice what a pair lies in."""
    assert over(free, more, at_connector) == ()
    for what in ("curves at couplings", "slack at couplings", "pair drawn in at couplings"):
        for by in (-0.3, 0.3):
            (message,) = over(free, more, at_connector, **{what.replace(" ", "_"): by})
            assert f"mm for {what}" in message


def boxes(side: Direction, *clearances: Clearance) -> list[tuple[tuple[float, ...], tuple[float, ...]]]:
    """The room before a side of a block of 20 × 10 × 6 mm at (30, 20, FLOOR)."""
    made = Part(
        "block", "block", "part", (Box((0, 0, 0), (20, 10, 6)),), 1.0, "invented",
        clearances=clearances, mount=Mount(), access=(Access("switch", "switch", side, True),),
    )  # fmt: skip
    part = standing(
        replace(put("block", made, "loco", (0, 0, 0)), place=Place(pose_named("+x+y+z"), (30, 20, 0)))
    )
    found = [shape.bounds for shape in rooms_before(part, made.access[0])]
    return [(box.low, box.high) for box in found]


@pytest.mark.parametrize("side", DIRECTIONS)
def test_a_finger_needs_six_millimetres_or_what_the_part_says(side: Direction) -> None:
    """Rooms for access that stand out on this side count, not those on others or those kept always."""
    axis, up = axis_of(side), is_forward(side)
    low, high = [30.0, 20.0, 0.0], [50.0, 30.0, 6.0]
    if up:
        low[axis], high[axis] = high[axis], high[axis] + 6.0
    else:
        low[axis], high[axis] = low[axis] - 6.0, low[axis]
    plain = [(tuple(low), tuple(high))]
    assert boxes(side) == plain

    def stands_out(way: Direction, needed: str) -> Clearance:
        first, last = [5.0, 3.0, 2.0], [9.0, 7.0, 4.0]
        along, size = axis_of(way), (20.0, 10.0, 6.0)
        if is_forward(way):
            first[along], last[along] = size[along] - 1, size[along] + 15
        else:
            first[along], last[along] = -15.0, 1.0
        box = Box((first[0], first[1], first[2]), (last[0], last[1], last[2]))
        return Clearance(f"{way} {needed}", "finger", box, needed)  # type: ignore[arg-type]

    others = [stands_out(way, "access") for way in DIRECTIONS if way != side]
    assert boxes(side, *others, stands_out(side, "always")) == plain
    own = stands_out(side, "access")
    box = own.solid.bounds
    expected = [
        (tuple(a + b for a, b in zip(corner, (30, 20, 0), strict=True)) for corner in (box.low, box.high))
    ]
    assert boxes(side, *others, own) == [tuple(pair) for pair in expected]
