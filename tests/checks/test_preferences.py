"""What is told of wishes, in closed form on the small plan; how much is seen of the faces of a cube."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.preferences import check_preferences, fixed_box, seen_share
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Need, Preference
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid, Window
from fitplan.model.wired import Harness
from tests.packing.small_trains import block, hollow, train_of
from tests.verify.lies import train_with
from tests.verify.two_vehicles import plan


def told(*wishes: tuple[str, str, str]) -> tuple[Finding, ...]:
    made = train_with(plan(), preferences=tuple(Preference(of, kind, other) for of, kind, other in wishes))  # type: ignore[arg-type]
    outcome = check_preferences(made.built)
    assert outcome.subject == "preferences"
    return outcome.findings


# The board is 20 × 10 × 5 mm round (30, 15, 21.7), the cell 20 × 10 × 10 round (26, 33, 24.2), the motor
# 20 × 10 × 10.8 round (60, 33, 24.6); the loco is 80 mm long and 48 wide.
@pytest.mark.parametrize(
    ("wish", "words", "figure", "best", "severity"),
    [
        (("board", "near", "cell"), "19 mm from middle to middle; side by side it would be 8",
         math.dist((30, 15, 21.7), (26, 33, 24.2)), 7.5, "note"),
        (("cell", "near", "loco/motor"), "34 mm from middle to middle; side by side it would be 10",
         math.dist((26, 33, 24.2), (60, 33, 24.6)), 10.0, "note"),
        (("board", "far from", "cell"), "19 mm from middle to middle; more than 60 is not to be had",
         math.dist((30, 15, 21.7), (26, 33, 24.2)), 60.0, "note"),
        (("board", "same side as", "cell"), "no, 18 mm across", 18.0, 0.0, "caution"),
        (("cell", "same side as", "loco/motor"), "yes, 0 mm across", 0.0, 0.0, "note"),
        (("board", "near", "lamp"), "they are in different vehicles", 0.0, 1.0, "note"),
        (("board", "far from", "lamp"), "they are in different vehicles, as far as can be", 0.0, 1.0, "note"),
        (("lamp", "near", "loco/motor"), "they are in different vehicles", 0.0, 1.0, "note"),
        (("board", "near", "hatch"), "they are in different vehicles", 0.0, 1.0, "note"),
        (("board", "reachable from", "roof"), "27 mm from middle to middle; side by side it would be 4",
         math.dist((30, 15, 21.7), (40, 24, 52.8)), 4.1, "note"),
    ],
)  # fmt: skip
def test_each_wish_is_told_with_its_figure(
    wish: tuple[str, str, str], words: str, figure: float, best: float, severity: str
) -> None:
    (found,) = told(wish)
    words = words.replace("27 mm", f"{figure:.0f} mm")
    assert found.message == f"{' '.join(wish)}: {words}"
    assert (found.severity, found.where) == (severity, wish[0])
    assert found.figure == round(figure, 1)
    assert found.limit == best
    good = {"note": "nothing to do", "caution": "fix one of the two with `at`"}[severity]
    apart = "in different vehicles" in words and wish[1] != "far from"
    assert found.remedy == ("give both the same vehicle with `in`, to see what is short" if apart else good)


def test_wishes_are_numbered_where_there_are_several() -> None:
    first, second = told(("board", "near", "cell"), ("cell", "near", "loco/motor"))
    assert first.message.startswith("wish 1 of 2, board near cell: ")
    assert second.message.startswith("wish 2 of 2, cell near loco/motor: ")
    assert told(("nobody", "near", "cell")) == ()
    (only,) = told(("nobody", "near", "cell"), ("board", "near", "cell"))
    assert only.message.startswith("wish 2 of 2, ")


def test_boxes_of_what_stays() -> None:
    train = plan().built.train
    assert fixed_box("loco/motor", "loco", train) == Box((50, 28, 19.2), (70, 38, 30))
    assert fixed_box("loco/motor", "wagon", train) is None
    assert fixed_box("loco/horn", "loco", train) is None
    assert fixed_box("roof", "wagon", train) == train.vehicle("wagon").vehicle.openings[0].box
    assert fixed_box("hatch", "wagon", train) is None


# -- what is seen ------------------------------------------------------------------------------------------

LOW, HIGH = (40.0, 20.0, 30.0), (50.0, 30.0, 40.0)
"""A cube of 10 mm."""


def seen(*walls: Box, windows: tuple[Window, ...] = (), other: Vec | None = None) -> float:
    cube = block("cube", (10.0, 10.0, 10.0))
    body = tuple(BodySolid(wall, "fixed") for wall in walls)
    bare = replace(hollow("v", 12, 6, 10), body=body, openings=(), ports=(), windows=windows)
    pose = pose_named("+x+y+z")
    placed = [Placement("cube", cube, "v", Place(pose, LOW), "")]
    if other is not None:
        placed.append(Placement("other", cube, "v", Place(pose, other), ""))
    train = train_of((bare,), tuple(Need(one.need, (cube,)) for one in placed))
    return seen_share(placed[0], BuiltTrain(train, tuple(placed), Harness(), ()))


def wall(axis: int, side: int, gap: float = 0.1) -> Box:
    """A wall a little way before one face of the cube, 1 mm thick, and as large as the face and a bit."""
    low, high = [value - 0.6 for value in LOW], [value + 0.6 for value in HIGH]
    if side > 0:
        low[axis], high[axis] = HIGH[axis] + gap, HIGH[axis] + gap + 1
    else:
        low[axis], high[axis] = LOW[axis] - gap - 1, LOW[axis] - gap
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


EVERY = [(axis, side) for axis in range(3) for side in (-1, 1)]


def test_in_the_open_all_of_a_part_is_seen() -> None:
    assert seen() == 1.0


@pytest.mark.parametrize(("axis", "side"), EVERY)
def test_a_wall_close_before_a_face_hides_that_face(axis: int, side: int) -> None:
    """A sixth of the cube, but for a rim of about a millimetre that is looked at aslant."""
    assert seen(wall(axis, side)) == pytest.approx(5 / 6, abs=0.06)
    assert seen(wall(axis, side)) < 0.9
    assert seen(wall(axis, side, gap=40.0)) == pytest.approx(1.0, abs=0.01)


def test_between_walls_on_every_side_nothing_is_seen_and_through_a_window_its_share() -> None:
    """Walls that meet at their edges; without one the face there is seen, by the share of its pane."""
    low, high = [value - 0.3 for value in LOW], [value + 0.3 for value in HIGH]
    shell = []
    for axis, side in EVERY:
        a, b = [value - 1.0 for value in low], [value + 1.0 for value in high]
        a[axis], b[axis] = (low[axis] - 1.0, low[axis]) if side < 0 else (high[axis], high[axis] + 1.0)
        shell.append(Box((a[0], a[1], a[2]), (b[0], b[1], b[2])))
    assert seen(*shell) == 0.0
    for number, (axis, side) in enumerate(EVERY):
        open_ = [one for n, one in enumerate(shell) if n != number]
        whole = seen(*open_)
        assert 1 / 6 <= whole <= 1 / 6 + 0.2
        out = ("-" if side < 0 else "+") + "xyz"[axis]
        for share in (0.5, 0.25):
            pane = Window("pane", shell[number], out, open_share=share)  # type: ignore[arg-type]
            assert seen(*open_, windows=(pane,)) == pytest.approx(whole * share)
        clear = Window("pane", shell[number], out, open_share=1.0)  # type: ignore[arg-type]
        assert seen(*open_, windows=(clear,)) == whole


def test_another_part_hides_as_a_wall_does() -> None:
    beside = seen(other=(50.2, 20.0, 30.0))
    assert beside == pytest.approx(5 / 6, abs=0.08)


@pytest.mark.parametrize(("open_", "severity"), [(False, "note"), (True, "caution")])
def test_what_is_to_be_hidden_is_told_by_its_share(open_: bool, severity: str) -> None:
    made = train_with(plan(), preferences=(Preference("board", "hidden"),))
    loco, wagon = made.built.train.vehicles
    if open_:
        loco = replace(loco, vehicle=replace(loco.vehicle, body=()))
    made = train_with(made, vehicles=(loco, wagon))
    (found,) = check_preferences(made.built).findings
    share = seen_share(made.built.placements[0], made.built)
    assert (share > 0.5) is open_
    assert found.message == f"{share:.0%} of board is seen from outside"
    assert (found.severity, found.figure, found.limit) == (severity, round(share, 3), 0.05)
    assert (found.remedy == "nothing to do") is not open_
