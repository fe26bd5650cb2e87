"""When ways are led by a guide, which ports wires pass, and what equal vehicles are told."""

from __future__ import annotations

from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.routing.negotiation import wired_before
from fitplan.routing.negotiation.lanes import Lanes
from fitplan.routing.negotiation.layout import CouplingPorts
from fitplan.routing.negotiation.share_table import GUIDED_GREED, ShareTable
from fitplan.routing.negotiation.wired_before import MOST_TWINS, WiredBefore
from fitplan.routing.ways.way import Way

# -- ways ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("greed", [1.05, 1.4])
@pytest.mark.parametrize("guide", [None, "guide"])
@pytest.mark.parametrize("lonely", [True, False])
def test_a_guided_way_is_hardly_dearer_than_the_cheapest(greed: float, guide: Any, lonely: bool) -> None:
    """It is looked for from the end that fewer share, turned back then, and its work counts for its goals."""
    starts, goals = ((0, 0, 0),), ((9, 0, 0),)
    asked: list[Any] = []
    opened: list[Any] = []
    field = SimpleNamespace(
        way_between=lambda one, two, **more: (
            asked.append((one, two, more)),
            Way(np.array([one[0], two[0]], np.int32), 9.0, 9.0, 33),
        )[1]
    )

    @contextmanager
    def around(given: Any, ends: Any) -> Any:
        opened.append((given, ends))
        yield

    self: Any = SimpleNamespace(
        held=0, runs=[SimpleNamespace(starts=starts, goals=goals)], fields=[field], kind=[0],
        shared={starts: 1 if lonely else 3, goals: 2}, _guide=lambda some: guide, _opened=around,
        ends=["near"], settings=SimpleNamespace(greed=greed), looked_at={starts: 0, goals: 0}, expanded=0,
    )  # fmt: skip
    way = ShareTable._way(self, 0)
    assert way is not None
    assert (way.start, way.goal) == (starts[0], goals[0])
    ((one, two, more),) = asked
    assert (one, two) == ((starts, goals) if lonely else (goals, starts))
    assert more == {
        "greed": min(greed, GUIDED_GREED) if guide else greed, "check_rooms": False, "guide": guide,
    }  # fmt: skip
    assert opened == [(field, "near")]
    assert self.looked_at == ({starts: 0, goals: 33} if lonely else {starts: 33, goals: 0})


@pytest.mark.parametrize(("looked", "made"), [(19, False), (20, False), (21, True)])
def test_a_guide_is_made_once_it_is_worth_it(looked: int, made: bool) -> None:
    """After so much was looked at without one, from what the thinnest and all ends leave open; made once."""
    goals = ((9, 0, 0),)
    asked: list[Any] = []

    @contextmanager
    def around(given: Any, ends: Any) -> Any:
        asked.append((given, ends.tolist()))
        yield

    def guide(some: Any, least: Any) -> str:
        asked.append((some, least))
        return "made"

    field = SimpleNamespace(guide=guide)
    self: Any = SimpleNamespace(
        guides={}, looked_at={goals: looked}, worth_a_guide=20.0, fields=[field, None], least="least",
        ends=[np.array([4, 7]), np.array([7, 1])], _opened=around,
    )  # fmt: skip
    wanted = [(field, [1, 4, 7]), (goals, "least")] if made else []
    for _ in range(2):
        assert ShareTable._guide(self, goals) == ("made" if made else None)
        assert asked == wanted
    self.guides[goals] = "known"
    assert ShareTable._guide(self, goals) == "known"


# -- ports ---------------------------------------------------------------------------------------------------


def test_wires_pass_the_two_ports_whose_mouths_are_nearest_aside() -> None:
    """To the side and upwards together count, whichever way; of those alike the first by name."""

    def hole(name: str, y: float, z: float) -> Any:
        return SimpleNamespace(name=name, at=(0.0, y, z))

    def entry(name: str, ports: Any) -> Any:
        return SimpleNamespace(name=name, ports_at=lambda side: ports, in_train=lambda start, point: point)

    def taken(ahead: Any, behind: Any) -> Any:
        train: Any = SimpleNamespace(
            vehicles=(entry("a", ahead), entry("b", behind)), starts=lambda: {"a": 0.0, "b": 0.0}
        )
        holds = SimpleNamespace(holds=True)
        maps: Any = {
            name: SimpleNamespace(mouth_point=lambda port: port.at, passage=lambda port, wires: holds)
            for name in "ab"
        }
        found = Lanes(train, maps)._nearest_ports(0, 1.0, {})
        assert isinstance(found, CouplingPorts)
        return found.port_ahead.name, found.port_behind.name

    here = [hole("p", 10.0, 20.0)]
    assert taken(here, [hole("up", 10.0, 40.0), hole("aside", 25.0, 20.0)]) == ("p", "aside")
    assert taken(here, [hole("down", 10.0, 2.0), hole("aside", 25.0, 20.0)]) == ("p", "aside")
    assert taken(here, [hole("up", 10.0, 33.0), hole("left", -5.0, 20.0)]) == ("p", "up")
    assert taken([*here, hole("q", 40.0, 20.0)], [hole("r", 39.0, 22.0)]) == ("q", "r")
    assert taken(here, [hole("s", 15.0, 20.0), hole("r", 10.0, 25.0)]) == ("p", "r")


# -- what was wired before -----------------------------------------------------------------------------------


def test_of_equal_vehicles_the_finished_one_is_told_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """In the place of one that was only tried; the last few kinds are kept."""
    monkeypatch.setattr(wired_before, "Names", SimpleNamespace(of=lambda work, *rest: work.vehicle))
    monkeypatch.setattr(wired_before, "question_of", lambda work, *rest: work.question)
    monkeypatch.setattr(wired_before, "retell", lambda done, *rest: done)
    memory = WiredBefore()

    def work(vehicle: str, trying: bool = False, question: Any = 0, maps: Any = ("a", "b")) -> Any:
        memory._lies[vehicle] = memory._state[vehicle] = "lies"
        memory._inside[vehicle] = ()
        return SimpleNamespace(
            vehicle=vehicle, trying=trying, kept=(), cut_short=False, question=question, map=None, tasks=(),
            layout=SimpleNamespace(maps=dict.fromkeys(maps)), can_be_finished=False, diameters={},
        )  # fmt: skip

    tried, done = work("a", trying=True), work("a")
    memory.keep(tried, {}, False)
    assert memory.wired(work("b"), {}, False) is None
    assert memory.wired(work("b", trying=True), {}, False) is tried
    memory.keep(done, {}, False)
    assert memory.wired(work("b"), {}, False) is done
    memory.keep(work("a", trying=True), {}, False)
    assert memory.wired(work("b"), {}, False) is done
    for k in range(1, MOST_TWINS):
        memory.keep(work("a", question=k), {}, False)
    assert memory.wired(work("b"), {}, False) is done
    memory.keep(work("a", question=99), {}, False)
    assert memory.wired(work("b"), {}, False) is None
    for k in (1, 99):
        assert memory.wired(work("b", question=k), {}, False) is not None
    # In a train of one vehicle none is another's equal.
    memory.keep(work("a", question="alone", maps=("a",)), {}, False)
    assert memory.wired(work("b", question="alone"), {}, False) is None
