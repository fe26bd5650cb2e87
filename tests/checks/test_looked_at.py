"""What sensors look at: the smallest train that goes wrong each time, and the same after the remedy."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.view import check_view
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Load
from fitplan.model.found import Finding
from fitplan.model.part import Mount
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.solids import Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Removable, Vehicle, Window
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import box, emitter, need, part, ranger, train, vehicle

AHEAD, DOWN, LEFT = "+x+y+z", "-z+y+x", "+y-x+z"


def placed(name: str, one: object, offset: Vec, pose: str = AHEAD) -> Placement:
    return Placement(name, one, "v", Place(pose_named(pose), offset), "body")  # type: ignore[arg-type]


def built(
    shape: Vehicle, *parts: Placement, looks: tuple[str, str] | None = None, removed: tuple[str, ...] = ()
) -> BuiltTrain:
    needs = [replace(need(one.need, one.part), looks=looks) for one in parts]
    made = train(needs, [], [TrainVehicle("v", shape)])
    rebuilds = (Rebuild("v", removed, (), 1.0, 1.0, "yes"),) if removed else ()
    return BuiltTrain(made, parts, Harness(), (), rebuilds)


def picked(one: BuiltTrain, word: str) -> list[Finding]:
    return [f for f in check_view(one).findings if word in f.message]


def test_a_ranger_that_faces_the_ground() -> None:
    """A ranger that looks down is a stop that tells its height; sideways a caution; ahead neither."""
    down = picked(built(vehicle(), placed("eyes", ranger(), (80.0, 2.0, 50.0), DOWN)), "never sees")
    assert [(f.severity, f.figure) for f in down] == [("stop", 38.0)]  # the lens is 12 mm before its origin
    side = picked(built(vehicle(), placed("eyes", ranger(), (80.0, 2.0, 30.0), LEFT)), "never sees")
    assert [f.severity for f in side] == ["caution"]
    assert picked(built(vehicle(), placed("eyes", ranger(), (164.0, 2.0, 30.0))), "never sees") == []


def paned(*more: BodySolid, **extra: object) -> Vehicle:
    tray = vehicle()
    hole = BodySolid(box(168, 2, 30, 176, 46, 56), "outside")
    gap = Window("nose gap", box(168, 2, 30, 176, 46, 56), "+x")
    return vehicle(body=(*tray.body, hole, *more), windows=(gap,), **extra)


@pytest.mark.parametrize("at", [168.0, 172.0, 175.0])
def test_a_ranger_behind_a_pane(at: float) -> None:
    """A pane of 1 mm anywhere in the window is a stop; taken out, or the lens before it, nothing is said."""
    pane = BodySolid(box(at, 2, 30, at + 1, 46, 56), "removable", "pane")
    eyes = placed("eyes", ranger(), (150.0, 2.0, 34.0))
    shape = paned(pane, removables=(Removable("pane", 1.0),))
    (stop,) = picked(built(shape, eyes, looks=("v", "nose gap")), "of its window")
    assert (stop.severity, stop.figure, stop.remedy) == ("stop", 100.0, "take pane out")
    assert picked(built(shape, eyes, looks=("v", "nose gap"), removed=("pane",)), "of its window") == []
    assert picked(built(paned(), eyes, looks=("v", "nose gap")), "of its window") == []


@pytest.mark.parametrize(("at", "told"), [(None, False), (169.0, False), (174.0, True)])
def test_a_ranger_in_a_niche(at: float | None, told: bool) -> None:
    """Its lens lies in the window, and right behind that is brick: what counts is what is before the lens."""
    behind = BodySolid(box(150, 2, 30, 168, 46, 56), "fixed")
    pane = () if at is None else (BodySolid(box(at, 2, 30, at + 1, 46, 56), "fixed"),)
    eyes = placed("eyes", ranger(), (160.0, 2.0, 34.0))  # the lens is 12 mm before its origin
    found = picked(built(paned(behind, *pane), eyes, looks=("v", "nose gap")), "of its window")
    assert [one.figure for one in found] == [100.0] * told


def test_a_bar_across_the_window_is_no_pane() -> None:
    """A bar that hides a quarter of the lens is left to the beam's own check."""
    bar = BodySolid(box(170, 2, 38, 172, 46, 41), "fixed")  # 3 of the lens's 12 mm
    eyes = placed("eyes", ranger(), (150.0, 2.0, 34.0))
    assert picked(built(paned(bar), eyes, looks=("v", "nose gap")), "of its window") == []


def test_a_light_sensor_before_a_wall() -> None:
    """A light sensor 1 mm behind the wall looks at it; turned up to the open it does not."""
    mount = Mount(looks="+x", lens=box(2.0, 0.0, 0.0, 2.0, 5.0, 5.0), needs_support=False)
    sensor = part("light", Load(3.0, 5.5, 1.0, 1.0), size=(2.0, 5.0, 5.0), family="sensor", mount=mount)
    (stop,) = picked(built(vehicle(), placed("dusk", sensor, (165.0, 20.0, 40.0))), "its own train")
    assert (stop.severity, stop.figure) == ("stop", 100.0)
    assert "1.0 mm before it" in stop.message
    open_up = placed("dusk", sensor, (80.0, 20.0, 60.0), "+z+y-x")
    assert picked(built(vehicle(), open_up), "its own train") == []


@pytest.mark.parametrize(("beyond", "told"), [(6.0, True), (1.5, False), (-6.0, False)])
def test_a_light_sensor_half_before_a_wall(beyond: float, told: bool) -> None:
    """A wall 18 mm ahead that ends so far past the axis of a cone of 30°: 84 % of it, 59 % and 16 %.

    The cone is 10.4 mm wide there: the shares of a disc on one side of a chord, so of its solid angle nearly.
    """
    mount = Mount(looks="+x", lens=box(2.0, 0.0, 0.0, 2.0, 0.2, 0.2), needs_support=False)
    sensor = part("light", Load(3.0, 5.5, 1.0, 1.0), size=(2.0, 0.2, 0.2), family="sensor", mount=mount)
    tray = vehicle()
    wall = BodySolid(box(100, 0, 570, 104, 24.1 + beyond, 630), "fixed")
    one = built(vehicle(body=(*tray.body, wall)), placed("dusk", sensor, (80.0, 24.0, 600.0)))
    assert bool(picked(one, "its own train")) is told
    away = built(vehicle(body=(*tray.body, wall)), placed("dusk", sensor, (50.0, 24.0, 600.0)))
    assert picked(away, "its own train") == []


def test_an_emitter_without_a_receiver() -> None:
    """No receiver in the train, one out of the light, and one in it."""
    shines = replace(emitter(), mount=Mount(looks="+x", lens=box(5, 1, 2, 5, 4, 6), needs_support=False))
    lamp = placed("emitter", shines, (40.0, 20.0, 40.0))
    (none,) = picked(built(vehicle(), lamp), "no receiver")
    assert none.severity == "caution"
    assert "no vehicle" in none.message

    def with_eye(*at: float) -> list[Finding]:
        eye = BuiltIn("receiver", "receiver", (box(*at),))
        return picked(built(vehicle(built_in=(eye,)), lamp), "no receiver")

    (behind,) = with_eye(10.0, 18.0, 38.0, 16.0, 28.0, 50.0)
    assert "none of its light" in behind.message
    assert with_eye(100.0, 18.0, 38.0, 106.0, 28.0, 50.0) == []
