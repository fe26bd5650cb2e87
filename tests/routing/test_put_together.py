"""What the layout of a train is put together from, with vehicles that stand in for those that are wired."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.model.nets import Net
from fitplan.model.solids import Box
from fitplan.model.vehicle import Port
from fitplan.model.wired import Unreached
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach
from fitplan.routing.negotiation import train_wiring
from fitplan.routing.negotiation.layout import KeptLayout, Squeeze
from fitplan.routing.negotiation.train_wiring import _as_wired, _tasks, _walled_in, lay_out

NAMES = ("a", "b", "c")
WIRE: Any = "was kept"


def end(owner: str, vehicle: str, **more: Any) -> NetEnd:
    return NetEnd("n", owner, "p", vehicle, (3.0, 5.0, 7.0), "+x", **more)


@dataclass(eq=False)
class Vehicle:
    """A vehicle at work that says what was asked of it, and has one of everything to hand over."""

    layout: Any
    vehicle: str
    tasks: Any
    diameters: Any
    wiring: Any
    budget: Any
    kept: tuple[Any, ...] = ()
    trying: bool = False
    begun: bool = False
    finished: int = 0
    ran: int = 0
    joining: Any = None
    notes: Any = None
    laid: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        name = self.vehicle
        self.laid = [f"laid {name}"]
        self.built = {len(name) + ord(name): k for k, _ in enumerate(self.kept)}
        self.pulled, self.detours, self.squeezes = {name: "pulled"}, {name: "detour"}, [f"squeeze {name}"]
        lost = [Unreached("n", name, "p", "no way")] if name == "a" else []
        self.notes = SimpleNamespace(
            unreached=lost, shortages=[f"short {name}"], questions=[f"question {name}"], cut={f"cut {name}"},
            unproved=[f"unproved {name}"],
        )  # fmt: skip
        ground = None if name == "b" else f"ground {name}"
        self.joining = SimpleNamespace(joiners={"n": f"joiner {name}"}, ground=ground)

    def finish(self) -> Vehicle:
        self.finished += 1
        self.trying = self.trying and not self.begun  # a first try goes on being one
        return self

    def run(self) -> Vehicle:
        self.ran += 1
        return self


class Memory:
    """What was wired before, as told; what is asked of it is written down."""

    def __init__(
        self, wired: dict[str, list[Any]] | None = None, kinds: dict[str, str] | None = None
    ) -> None:
        self.answers, self.kinds = wired or {}, kinds or {}
        self.kept: list[Any] = []
        self.asked: list[tuple[str, bool]] = []

    def wired(self, one: Any, couplings: Any, image: bool) -> Any:
        self.asked.append((one.vehicle, image))
        answers = self.answers.get(one.vehicle, [])
        return answers.pop(0) if answers else None

    def kind(self, one: Any, couplings: Any, image: bool) -> str:
        return self.kinds.get(one.vehicle, one.vehicle)

    def get_on(self, vehicles: Any) -> dict[tuple[str, str], int]:
        return {}

    def keep(self, one: Any, couplings: Any, image: bool) -> None:
        self.kept.append((one, image))


@pytest.fixture
def stage(monkeypatch: pytest.MonkeyPatch) -> Any:
    """A train of three vehicles where nothing but the putting together is done."""
    found: Any = SimpleNamespace(
        shut=set(), images=frozenset({"b"}), tasks={name: [name] for name in NAMES}, segments={}, loose=[],
        made=[],
    )  # fmt: skip

    def make(*given: Any, **more: Any) -> Vehicle:
        found.made.append(Vehicle(*given, **more))
        return found.made[-1]

    make.finish = Vehicle.finish  # type: ignore[attr-defined]
    maps = {name: SimpleNamespace(name=name, vehicle=f"body {name}") for name in NAMES}
    monkeypatch.setattr(train_wiring, "VehicleRouting", make)
    monkeypatch.setattr(train_wiring, "_maps", lambda *_: (maps, found.images))
    monkeypatch.setattr(train_wiring, "_as_wired", lambda net, *_: net)
    monkeypatch.setattr(train_wiring, "within_reach", lambda net, _: net)
    monkeypatch.setattr(
        train_wiring, "reach_of", lambda one, _: Reach(one, () if one.owner in found.shut else ((1, 2, 3),))
    )
    monkeypatch.setattr(train_wiring, "_walled_in", lambda one, body: f"walled in, {body}")
    lanes = SimpleNamespace(
        couplings={"portal": "ports"},
        unreached=[Unreached("m", "a", "b", "no port")],
        names=list(NAMES),
        covered=[],
    )
    monkeypatch.setattr(train_wiring, "Lanes", lambda *_: lanes)
    found.lanes = lanes

    def kept(*_: Any) -> Any:
        segments = {name: found.segments.get(name, ()) for name in NAMES}
        return SimpleNamespace(layout=KeptLayout({7: WIRE}), segments=segments, wires=["wire"])

    monkeypatch.setattr(train_wiring, "kept_wires", kept)
    monkeypatch.setattr(train_wiring, "_tasks", lambda *_: found.tasks)
    monkeypatch.setattr(train_wiring, "without_loose_ends", found.loose.append)
    return found


def run(memory: Memory, **more: Any) -> Any:
    built: Any = SimpleNamespace(train=SimpleNamespace(wiring="wiring"))
    net = ResolvedNet(Net("n", "signal", ()), (end("one", "a"), end("two", "b"), end("three", "b")))
    return lay_out(built, [net], {"n": 1.3}, known=memory, **more)  # type: ignore[arg-type]


def test_all_that_vehicles_hand_over_is_in_the_layout(stage: Any) -> None:
    """In the order of the vehicles; a vehicle without a ground or without trouble adds none."""
    stage.shut = {"two"}
    stage.segments = {"c": ("built",)}
    memory = Memory()
    layout = run(memory)
    assert layout.laid == ["laid a", "laid b", "laid c"]
    assert layout.pulled == dict.fromkeys(NAMES, "pulled")
    assert layout.detours == dict.fromkeys(NAMES, "detour")
    assert layout.squeezes == [f"squeeze {name}" for name in NAMES]
    assert layout.shortages == [f"short {name}" for name in NAMES]
    assert layout.questions == [f"question {name}" for name in NAMES]
    assert layout.unproved == [f"unproved {name}" for name in NAMES]
    assert layout.cut == {f"cut {name}" for name in NAMES}
    assert layout.joiners == {("n", name): f"joiner {name}" for name in NAMES}
    assert layout.grounds == {"a": "ground a", "c": "ground c"}
    assert layout.couplings == {"portal": "ports"}
    assert layout.kept.wires == {7: WIRE, 1 + ord("c"): "wire"}
    walled = Unreached("n", "two", "p", "walled in, body b")
    lost = Unreached("n", "a", "p", "no way")
    assert layout.unreached == [walled, Unreached("m", "a", "b", "no port"), lost]
    assert layout.troubles == {"b": (walled,), "a": (lost,)}
    assert layout.images == {"b"}
    assert stage.loose == [layout]
    assert [(one.finished, one.kept, one.wiring, one.trying) for one in stage.made] == [
        (1, (), "wiring", False), (1, (), "wiring", False), (1, ("built",), "wiring", False),
    ]  # fmt: skip
    # Each is kept as wired, as its own image or not.
    assert [(one.vehicle, image) for one, image in memory.kept] == [("a", False), ("b", True), ("c", False)]
    assert memory.asked == [("a", False), ("b", True), ("c", False)]


def test_trouble_of_two_kinds_in_one_vehicle_is_told_together(stage: Any) -> None:
    stage.shut = {"one"}
    layout = run(Memory())
    assert [one.reason for one in layout.troubles["a"]] == ["walled in, body a", "no way"]
    stage.shut = {"two", "three"}
    layout = run(Memory())
    assert [one.owner for one in layout.troubles["b"]] == ["two", "three"]


def test_a_port_that_parts_cover_is_trouble_of_their_vehicle(stage: Any) -> None:
    """They are told to leave the room straight behind it."""
    lost = Unreached("n", "a", "b", "carries none yet", True)
    port = Port("p", Box((92.0, 20.0, 20.0), (100.0, 27.0, 24.0)), "+x")
    stage.lanes.covered = [(lost, "c", port)]
    layout = run(Memory())
    assert layout.troubles["c"] == (lost,)
    (squeeze,) = (one for one in layout.squeezes if not isinstance(one, str))
    assert squeeze == Squeeze("c", (Box((88.8, 20.0, 20.0), (92.0, 27.0, 24.0)),))


def test_only_what_has_something_to_join_is_wired(stage: Any) -> None:
    """Or holds wires that are built; one vehicle alone where that is asked, and none that comes later."""
    stage.tasks = {"a": ["a"], "b": [], "c": []}
    stage.segments = {"c": ("built",)}
    assert run(Memory()).laid == ["laid a", "laid c"]
    assert run(Memory(), later=frozenset({"a"})).laid == ["laid c"]
    stage.loose.clear()
    stage.made.clear()
    assert run(Memory(), only="a").laid == ["laid a"]
    assert stage.loose == []
    assert [one.trying for one in stage.made] == [True]


def earlier(name: str, *, trying: bool) -> Vehicle:
    found = Vehicle(None, name, [], {}, None, None, trying=trying, begun=True)
    found.laid = [f"known {name}"]
    return found


def test_what_was_wired_before_is_taken_as_it_is(stage: Any) -> None:
    done = earlier("b", trying=False)
    memory = Memory({"b": [done]})
    layout = run(memory)
    assert layout.laid == ["laid a", "known b", "laid c"]
    assert (done.finished, done.ran) == (0, 0)
    assert [one.finished for one in stage.made] == [1, 0, 1]
    assert [one for one, _ in memory.kept] == [stage.made[0], done, stage.made[2]]


def test_what_was_only_tried_is_finished_and_goes_on_in_this_layout(stage: Any) -> None:
    """A try is taken as it is for another try."""
    tried = earlier("b", trying=True)
    layout = run(Memory({"b": [tried]}))
    assert layout.laid == ["laid a", "known b", "laid c"]
    assert tried.finished == 1
    assert tried.layout is layout
    tried = earlier("b", trying=True)
    layout = run(Memory({"b": [tried]}), only="b")
    assert layout.laid == ["known b"]
    assert (tried.finished, tried.ran, tried.layout) == (0, 0, None)


@pytest.mark.parametrize("found", [None, False, True])
def test_an_equal_vehicle_waits_for_the_first(stage: Any, found: bool | None) -> None:
    """It takes what is known of the first by then, finished if that was a try; else it is wired itself."""
    known = None if found is None else earlier("c", trying=found)
    memory = Memory({"c": [None, known]}, {"a": "alike", "c": "alike"})
    layout = run(memory)
    first, second, third = stage.made
    assert (first.finished, second.finished) == (1, 1)
    assert layout.laid == ["laid a", "laid b", "known c" if known else "laid c"]
    assert memory.asked[3:] == [("c", False)]
    if known is None:
        assert (third.ran, third.finished) == (1, 0)
    else:
        assert (third.ran, third.finished, known.finished) == (0, 0, int(found is True))


def test_of_equal_ones_a_try_is_finished_once(stage: Any) -> None:
    """Two alike were tried: the first of them is finished, and the other one asked for again."""
    one, two, again = earlier("a", trying=True), earlier("b", trying=True), earlier("b", trying=False)
    memory = Memory({"a": [one], "b": [two, again]}, {"a": "alike", "b": "alike"})
    layout = run(memory)
    assert (one.finished, two.finished, again.finished) == (1, 0, 0)
    assert layout.laid == ["known a", "known b", "laid c"]


# -- what is asked -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("load", "above", "said"),
    [(False, 30.0, False), (True, 19.9, False), (True, 20.0, True), (True, 25.04, True)],
)
def test_a_pin_above_what_a_load_may_reach_is_told_so(load: bool, above: float, said: bool) -> None:
    """From the height of its lowest pin on, with both figures."""
    vehicle: Any = SimpleNamespace(load_top=load, hull=SimpleNamespace(high=(9.0, 9.0, 20.0)))
    pins = [NetEnd("n", "o", "p", "a", (0.0, 0.0, z), "+x") for z in (above, above + 9.0)]
    told = _walled_in(NetEnd("n", "o", "p", "a", pins[0].at, "+x", others=(pins[1],)), vehicle)
    assert ("load height" in told) is said
    if said:
        assert f"{above:.1f} mm above the rail" in told
        assert "up to 20 mm" in told


def test_ends_are_wired_where_the_image_has_them() -> None:
    maps: Any = {name: SimpleNamespace(vehicle=SimpleNamespace(width=48.0)) for name in "ab"}
    net = ResolvedNet(Net("n", "signal", ()), (end("one", "a"), end("two", "b")))
    seen = _as_wired(net, maps, frozenset({"b"}))
    assert [one.at for one in seen.ends] == [(3.0, 5.0, 7.0), (3.0, 43.0, 7.0)]
    assert seen.net is net.net


def test_what_is_joined_in_each_vehicle(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its ends and the holes ahead of it and behind; nothing where one thing is; what is kept, joined."""
    monkeypatch.setattr(train_wiring, "reach_of", lambda one, map_: Reach(one, ((0, 0, ord(map_.name)),)))
    here = ("one", "a"), ("two", "b"), ("three", "b"), ("four", "d")
    ends = tuple(end(owner, vehicle) for owner, vehicle in here)
    net, other = (ResolvedNet(Net(name, "signal", ()), ends) for name in ("n", "m"))
    maps: Any = {
        name: SimpleNamespace(name=name, mouth=lambda port, name=name: ((port, 0, ord(name)),))
        for name in "abcd"
    }
    ports: Any = {
        Portal("n", k, 1): SimpleNamespace(port_in=lambda map_, k=k: 10 * k + ord(map_.name))
        for k in range(3)
    }
    asked: list[Any] = []

    def portals(*given: Any) -> dict[int, Portal]:
        asked.append(given)
        return {k: Portal("n", k, 1) for k in (0, 2)}  # the coupling between had no room

    lanes: Any = SimpleNamespace(
        names=list("abcd"), couplings=ports, portals=portals, turning_at=lambda name: []
    )
    standing: Any = [SimpleNamespace(segment="kept")]
    kept: Any = SimpleNamespace(of_net=lambda name: standing if name == "m" else [])
    joined: list[Any] = []

    def joinings(*given: Any) -> list[Any]:
        joined.append(given)
        return [SimpleNamespace(vehicle="c", groups=("groups",))]

    monkeypatch.setattr(train_wiring, "joinings", joinings)
    layout: Any = SimpleNamespace(nets=(net, other), maps=maps)
    found = _tasks(layout, lanes, {"n": 1.3, "m": 0.9}, kept)
    goals = {"a": [((0, 0, ord("a")),)], "b": [((0, 0, ord("b")),)] * 2, "c": [], "d": [((0, 0, ord("d")),)]}
    assert asked == [("n", 1.3, 0, 3, goals)]
    assert joined == [(other, ["kept"], lanes, maps, 0.9)]
    told = {
        name: [[[reach.node for reach in lane] for lane in task.lanes] for task in tasks]
        for name, tasks in found.items()
    }
    first, last = Portal("n", 0, 1), Portal("n", 2, 1)
    assert told == {
        "a": [[[ends[0], first]]],
        "b": [[[ends[1], ends[2], first]]],
        "c": [[]],
        "d": [[[ends[3], last]]],
    }
    (task,) = found["c"]
    assert (task.net, task.lanes, task.groups) == (other, [], ("groups",))
    (lane,) = found["b"][0].lanes
    assert [reach.voxels for reach in lane] == [((0, 0, 98),), ((0, 0, 98),), ((98, 0, 98),)]
