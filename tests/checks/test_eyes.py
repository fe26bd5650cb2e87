"""Which eyes guard a train, which way, and how far behind its end their lenses lie: by a ruler."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.braking import braking_of, reading_interval
from fitplan.checks.ends import LEAST_REACH, eyes_of
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.needed import Need
from fitplan.model.operation import Running, Track
from fitplan.model.part import Mount
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Window
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import part
from tests.packing.small_trains import hollow

# Lens in the middle of the face at x 5; vehicles are 80 mm long, each coupling reaches 4 mm beyond.
EYE = part(
    "eye",
    Ranger("light", 12.0, 20.0, 500.0, 60.0),
    mount=Mount(looks="+x", lens=Box((5, 1, 1), (5, 5, 5))),
    size=(5.0, 6.0, 6.0),
)


def seen(
    *turned: bool, at: int = 0, pose: str = "+x+y+z", x: float = 60.0, reach: float = 500.0
) -> tuple[float, bool | None, bool]:
    """Setback, direction and guarding of an eye in the vehicle of this number."""
    vehicles = tuple(
        TrainVehicle(f"v{i}", hollow(f"v{i}", 10, 6, 10), turned=one) for i, one in enumerate(turned)
    )
    eye = replace(EYE, electrical=(Ranger("light", 12.0, 20.0, reach, 60.0),))
    train = Train("t", vehicles, (Need("eye", (eye,)),), (), Track(320.0), Running(300.0))
    placed = Placement("eye", eye, f"v{at}", Place(pose_named(pose), (x, 20.0, 30.0)), "the body")
    (found,) = eyes_of(BuiltTrain(train, (placed,), Harness(), ()))
    return round(found.setback, 6), found.ahead, found.guards


@pytest.mark.parametrize(
    ("turned", "at", "pose", "x", "expected"),
    [
        # Lens at 65 of 80, then 4 of coupling.
        ((False,), 0, "+x+y+z", 60.0, (19.0, True, True)),
        # Turned about: lens at 55, 55 to the rear end and 4 of coupling.
        ((False,), 0, "-x-y+z", 60.0, (59.0, False, True)),
        # The vehicle turned: what looked forwards looks back, past the same end.
        ((True,), 0, "+x+y+z", 60.0, (19.0, False, True)),
        ((True,), 0, "-x-y+z", 60.0, (59.0, True, True)),
        # Of two, from the second forwards: 15 + 4 + 4 + 80 + 4; back from the first: 55 + 4 + 4 + 80 + 4.
        ((False, False), 1, "+x+y+z", 60.0, (107.0, True, True)),
        ((False, False), 0, "-x-y+z", 60.0, (147.0, False, True)),
        ((False, False), 1, "-x-y+z", 60.0, (59.0, False, True)),
        ((True, False), 0, "+x+y+z", 60.0, (107.0, False, True)),
        ((False, True), 1, "-x-y+z", 60.0, (147.0, True, True)),
        # To the side and up: it guards nothing.
        ((False,), 0, "+y-x+z", 60.0, (0.0, None, False)),
        ((False,), 0, "+z+y-x", 60.0, (0.0, None, False)),
        # Beyond the end: a lens 2 mm before the coupling.
        ((False,), 0, "+x+y+z", 81.0, (-2.0, True, True)),
    ],
)
def test_setback_and_direction(
    turned: tuple[bool, ...], at: int, pose: str, x: float, expected: tuple[float, bool | None, bool]
) -> None:
    """How far the end of the train is before a lens."""
    assert seen(*turned, at=at, pose=pose, x=x) == expected


@pytest.mark.parametrize(("reach", "guards"), [(100.0, True), (99.9, False), (15.0, False)])
def test_what_reads_marks_guards_nothing_whichever_way_it_lies(reach: float, guards: bool) -> None:
    """A light sensor of 15 mm that lies along the train by chance is not asked to brake for anything."""
    assert seen(False, reach=reach) == (19.0, True, guards)


def test_without_a_lens_the_face_counts() -> None:
    """The middle of the side that looks."""
    blind = replace(EYE, mount=Mount(looks="+x"))
    train = Train(
        "t",
        (TrainVehicle("v", hollow("v", 10, 6, 10)),),
        (Need("eye", (blind,)),),
        (),
        Track(320.0),
        Running(300.0),
    )
    placed = Placement("eye", blind, "v", Place(pose_named("+x+y+z"), (60.0, 20.0, 30.0)), "the body")
    (found,) = eyes_of(BuiltTrain(train, (placed,), Harness(), ()))
    assert found.setback == pytest.approx(19.0)


@pytest.mark.parametrize(
    ("window", "reach", "guards"),
    [("+x", 50.0, True), ("-x", 50.0, True), ("+y", 500.0, False), ("", 100.0, True), ("", 99.9, False)],
)
def test_eyes_without_a_place(window: str, reach: float, guards: bool) -> None:
    """A window tells; without one, what reaches far enough to brake for guards."""
    eye = replace(EYE, electrical=(Ranger("light", 12.0, 20.0, reach, 60.0),))
    windows = (Window("w", Box((72, 16, 32), (80, 32, 44)), window),) if window else ()  # type: ignore[arg-type]
    need = Need("eye", (eye,), looks=("v", "w") if window else None)
    train = Train(
        "t",
        (TrainVehicle("v", hollow("v", 10, 6, 10, windows=windows)),),
        (need,),
        (),
        Track(320.0),
        Running(300.0),
    )
    (found,) = eyes_of(BuiltTrain(train, (), Harness(), ()))
    assert (found.setback, found.ahead, found.guards) == (0.0, None, guards)


def test_what_is_read_beside_the_rangers_takes_its_time() -> None:
    """An eye that reaches 100 mm is read, one of less is not; a lens before the end takes nothing off."""
    running = Running(300.0, reads="all", margin=30.0)

    def braking(reach: float, x: float) -> tuple[float, float]:
        other = replace(EYE, electrical=(Ranger("light", 12.0, 20.0, reach, 240.0),))
        needs = (Need("eye", (EYE,)), Need("other", (other,)))
        train = Train("t", (TrainVehicle("v", hollow("v", 10, 6, 10)),), needs, (), Track(320.0), running)
        up = Placement("other", other, "v", Place(pose_named("+y-x+z"), (40.0, 20.0, 30.0)), "the body")
        ahead = Placement("eye", EYE, "v", Place(pose_named("+x+y+z"), (x, 20.0, 30.0)), "the body")
        built = BuiltTrain(train, (ahead, up), Harness(), ())
        made = braking_of(built, eyes_of(built)[0])
        return made.interval_s, made.offset

    assert braking(LEAST_REACH, 60.0)[0] == pytest.approx(
        reading_interval(running, "eye", {"eye": 60.0, "other": 240.0})
    )
    assert braking(LEAST_REACH - 1, 60.0)[0] == pytest.approx(reading_interval(running, "eye", {"eye": 60.0}))
    assert braking(LEAST_REACH, 60.0)[0] > braking(LEAST_REACH - 1, 60.0)[0]
    assert braking(500.0, 60.0)[1] == pytest.approx(30.0 + 19.0)
    assert braking(500.0, 81.0)[1] == pytest.approx(30.0)
