"""That each check of the room is run, and what the order of assembly and stripped ends are asked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

import fitplan.verify as room
from fitplan.model.ways_in import AssemblyStep, SubassemblyPart
from fitplan.verify.assembly import back, check_assembly, check_order
from fitplan.verify.conductors import check_conductors
from fitplan.verify.scene import sites_of

from .lies import notes, placed_with, problems, wire_with
from .two_vehicles import BOARD, STEPS, plan

PARTS = ("board", "cell", "emitter", "lamp", "eye")


def test_every_check_is_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each check that the room has, once a plan or once a vehicle, and one that fails stops no other."""
    asked: Counter[str] = Counter()

    def noting(name: str, fails: bool) -> Callable[..., None]:
        def check(*about: Any, **more: Any) -> None:
            asked[name] += 1
            if fails:
                raise KeyError(name)

        return check

    checks = sorted(name for name in vars(room) if name.startswith("check_"))
    for number, name in enumerate(checks):
        monkeypatch.setattr(room, name, noting(name, number % 2 == 0))
    report = room.verify(plan())
    of_vehicles = {"check_fit", "check_shelves", "check_built_in", "check_mounts", "check_assembly"}
    assert asked == Counter({name: 2 if name in of_vehicles else 1 for name in checks})
    halted = [p for p in report.problems if p.subject == "measure"]
    assert len(halted) == sum(asked[name] for name in checks[::2])
    assert all("cannot be checked" in p.message for p in halted)


def ordered(steps: tuple[AssemblyStep, ...], *blocked: str) -> list[str]:
    told = problems(check_order, steps, blocked, PARTS, ("loco", "wagon"))
    return [f"{p.where}: {p.message}" for p in told]


def test_the_order_of_assembly() -> None:
    """Numbers grow, vehicles are in the train, and what is blocked names a part without a step."""
    assert ordered(STEPS) == []
    same = (*STEPS[:3], replace(STEPS[3], number=3), STEPS[4])
    assert ordered(same) == ["plan: the steps are not numbered in the order of the list"]
    assert ordered(STEPS[::-1]) == ["plan: the steps are not numbered in the order of the list"]
    assert ordered((replace(STEPS[0], vehicle="van"),)) == ["van: step 1 is in no vehicle of the train"]
    assert ordered(STEPS[:4], "eye is stuck behind the lamp") == []
    assert ordered(STEPS, "eye is stuck") == ["plan: says eye is stuck; all parts that this names go in"]
    told = ordered(STEPS[:4], "lamp is stuck", "eye is stuck")
    assert told == ["plan: says lamp is stuck; all parts that this names go in"]


def replayed(steps: tuple[AssemblyStep, ...], *blocked: str) -> list[str]:
    sites = sites_of(plan().built)
    told = [problems(check_assembly, sites[name], steps, blocked) for name in ("loco", "wagon")]
    return [f"{p.where}: {p.message}" for some in told for p in some]


def test_the_steps_of_a_vehicle() -> None:
    """Every part has one step; two steps have two numbers; openings are those that there are."""
    assert replayed(STEPS) == []
    assert replayed(STEPS[1:]) == ["loco: board is in no step of the assembly"]
    site = sites_of(plan().built)["loco"]
    (note,) = notes(check_assembly, site, STEPS[1:], ("board holds itself in",))
    assert note.message == "board has no way in, as the plan says"
    twice = (*STEPS, replace(STEPS[0], number=6))
    assert "loco: board does not occur exactly once in the assembly" in replayed(twice)
    strange = (*STEPS, replace(STEPS[0], number=6, need="horn"))
    assert "loco: horn does not occur exactly once in the assembly" in replayed(strange)
    same = (STEPS[0], replace(STEPS[1], number=1), *STEPS[2:])
    assert "loco: two steps have the same number" in replayed(same)
    no_way = (replace(STEPS[0], opening="door"), *STEPS[1:])
    (told,) = [one for one in replayed(no_way) if "door" in one]
    assert told == "loco: board goes through 'door', which is no opening and no open side"


def test_parts_that_go_in_as_one_come_apart_outside() -> None:
    """The cell is put to the board by a straight move beforehand; through it, it would not come off."""
    moves = (("-x", 60.0),)
    joined = replace(STEPS[0], together=(SubassemblyPart("cell", moves),))  # type: ignore[arg-type]
    steps = (joined, *STEPS[2:])
    assert replayed(steps) == []
    through = replace(STEPS[0], together=(SubassemblyPart("cell", (("+y", 60.0),)),))
    assert replayed((through, *STEPS[2:])) != []
    assert back((("-z", 4.0), ("+x", 2.0))) == (("-x", 2.0), ("+z", 4.0))


def test_ends_that_are_made_are_not_stripped() -> None:
    """A pin whose lead comes with the part asks for no stripping, and any other pin for 4 mm."""
    pins = tuple(replace(p, joint="attached") if p.name == "GND" else p for p in BOARD.pins)
    old = placed_with(plan(), "board", part=replace(BOARD, pins=pins))
    wire = next(one for one in old.built.harness.wires if one.number == 2)

    def told(strip: float) -> list[str]:
        made = wire_with(old, 2, start=replace(wire.start, strip_mm=strip))
        return [p.message for p in problems(check_conductors, made.built, ()) if "is stripped" in p.message]

    assert told(0.0) == []
    assert told(4.0) == ["is stripped 4 mm at board GND; 0 mm are asked"]
    assert told(1.0) == ["is stripped 1 mm at board GND; 0 mm are asked"]
