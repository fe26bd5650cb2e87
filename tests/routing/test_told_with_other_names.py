"""What equal vehicles have in common, one difference at a time, and how one is told with another's names."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.nets import Net
from fitplan.model.wired import Unreached
from fitplan.model.wiring_facts import Shortage, Unproved
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Portal, Reach, Segment, SpliceSpot
from fitplan.routing.negotiation.layout import LaidSegment, Squeeze
from fitplan.routing.negotiation.net_joining import NetTask, StyleQuestion
from fitplan.routing.negotiation.twins import Names, portals_of, question_of, retell

CARS = ("a", "b", "c", "d")
ROWS = np.zeros((0, 3), np.int32)


def end(vehicle: str, owner: str, net: str, **more: Any) -> NetEnd:
    return NetEnd(net, owner, "p0", vehicle, (1.0, 2.0, 3.0), "+x", **more)


class Car:
    """A vehicle with a lamp and a motor that is built in, joined to the one ahead of it and beyond."""

    def __init__(self, number: int, **changed: Any) -> None:
        name = CARS[number]
        more = {
            "at": (1.0, 2.0, 3.0), "wires": 2, "board": False, "load": "", "voxel": (4, 4, 4), "port": "rear",
            "style": "tree", "diameter": 1.3, "far": number - 1, "inside": "motor", "spot": (6, 6, 6),
            "beyond": {}, "other": 0.0, "lane": 1, "image": False, "hole": True,
        } | changed  # fmt: skip
        net = f"net {name}"
        other = end(name, f"lamp {name}", net, wires=1)
        other = replace(other, at=(other.at[0] + more["other"], *other.at[1:]))
        self.lamp = end(
            name, f"lamp {name}", net, wires=more["wires"], board=more["board"], load=more["load"],
            others=(other,),
        )  # fmt: skip
        self.lamp = replace(self.lamp, at=more["at"])
        self.motor = end(name, f"{name}/{more['inside']}", net)
        far = replace(end(CARS[more["far"]], "far away", net), **more["beyond"])
        self.portal = Portal(net, number - 1, more["lane"])
        self.spot = SpliceSpot(net, name, more["spot"])
        nodes = [self.lamp, self.motor, *([self.portal] if more["hole"] else []), self.spot]
        lane = [Reach(node, (more["voxel"],), 1) for node in nodes]
        style: Any = more["style"]
        task = NetTask(ResolvedNet(Net(net, "ground", (), style=style), (self.lamp, self.motor, far)), [lane])
        ports: Any = SimpleNamespace(port_in=lambda map_: SimpleNamespace(name=more["port"]))
        self.couplings: Any = {self.portal: ports}
        notes = SimpleNamespace(unreached=[], shortages=[], unproved=[], questions=[])
        self.work: Any = SimpleNamespace(
            vehicle=name, layout=SimpleNamespace(maps=dict.fromkeys(CARS)), tasks=[task], map=f"map {name}",
            diameters={net: more["diameter"]}, laid=[], pulled={}, detours={}, squeezes=[], trying=False,
            notes=notes, joining=SimpleNamespace(joiners={}, ground=None),
        )  # fmt: skip
        places: Any = [SimpleNamespace(need=f"lamp {name}")]
        self.names = Names.of(self.work, places, self.couplings)
        self.image = more["image"]

    @property
    def question(self) -> Any:
        return question_of(self.work, self.names, self.couplings, self.image)


def test_names_and_places_in_the_train_make_no_difference() -> None:
    """Which nets, parts and vehicles are called what, nor which of those ahead an end far away is in."""
    car = Car(1)
    assert car.names == Names("b", 1, ("net b",), ("lamp b",), (car.portal,))
    assert car.names.every == ("b", "net b", "lamp b")
    assert portals_of(car.work) == {car.portal}
    assert Car(2).question == car.question == Car(3).question
    assert Car(3, far=0).question == car.question
    assert Car(3, lane=7).question == car.question
    assert Car(2, beyond={"at": (9.0, 9.0, 9.0), "owner": "else", "pin": "q"}).question == car.question


@pytest.mark.parametrize(
    "changed",
    [
        {"at": (1.0, 2.0, 3.5)}, {"wires": 1}, {"board": True}, {"load": "lamp"}, {"voxel": (4, 4, 5)},
        {"port": "front"}, {"style": "chain"}, {"diameter": 1.4}, {"far": 3}, {"inside": "receiver"},
        {"spot": (6, 6, 7)}, {"beyond": {"wires": 5}}, {"beyond": {"board": True}}, {"other": 1.0},
        {"image": True}, {"hole": False},
    ],
)  # fmt: skip
def test_each_difference_makes_another_vehicle(changed: Any) -> None:
    """What lies inside, how it is joined, which way it leaves, and on which side the rest of the net is."""
    assert Car(2, **changed).question != Car(1).question


def test_a_wiring_is_told_with_the_names_of_another_vehicle() -> None:
    """Every node, sentence and figure; whole words alone are exchanged, and what belongs to others stays."""
    done, own = Car(1), Car(2)
    first, last = (
        LaidSegment(Segment("net b", "b", start, stop), ROWS, (), ROWS)
        for start, stop in ((done.lamp, done.spot), (done.motor, done.portal))
    )
    work = done.work
    work.laid, work.pulled, work.trying = [first, last], {id(first): "pulled", id(last): "too"}, "tried"
    work.detours = {id(last): "detour"}
    work.squeezes = [Squeeze("b", ())]
    why = "lamp b and b of net b, not lamp bb, beside a cable"
    work.notes.unreached = [
        Unreached("net b", "lamp b", "p0", why, True), Unreached("net b", "b/motor", "p0", ""),
        Unreached("net b", "far away", "q", ""),
    ]  # fmt: skip
    work.notes.shortages = [Shortage("net b", "lamp b", "p0", "b", 3, 2, False)]
    work.notes.unproved = [Unproved("net b", "b", 5, 9.0, 8.0)]
    joiner: Any = SimpleNamespace(net="net b", told_of=lambda net, map_: f"joiner of {net} in {map_}")
    work.joining.joiners, work.joining.ground = {"net b": joiner}, "ground"
    reaches = tuple(Reach(node, ((1, 1, 1),)) for node in (done.lamp, done.portal, done.spot))
    work.notes.questions = [
        StyleQuestion("b", joiner, reaches[:1], reaches, reaches[0], reaches[1:]),
        StyleQuestion("b", joiner, (), reaches[2:], None, ()),
    ]
    told: Any = retell(work, done.names, own.work, own.names)
    assert told is own.work
    assert [(one.segment.net, one.segment.vehicle) for one in told.laid] == [("net c", "c")] * 2
    assert [(one.segment.start, one.segment.end) for one in told.laid] == [
        (own.lamp, own.spot), (own.motor, own.portal),
    ]  # fmt: skip
    assert [told.pulled[id(one)] for one in told.laid] == ["pulled", "too"]
    assert told.detours == {id(told.laid[1]): "detour"}
    assert told.squeezes == [Squeeze("c", ())]
    notes = told.notes
    assert notes.unreached == [
        Unreached("net c", "lamp c", "p0", "lamp c and c of net c, not lamp bb, beside a cable", True),
        Unreached("net c", "c/motor", "p0", ""),
        Unreached("net c", "far away", "q", ""),
    ]
    assert notes.shortages == [Shortage("net c", "lamp c", "p0", "c", 3, 2, False)]
    assert notes.unproved == [Unproved("net c", "c", 5, 9.0, 8.0)]
    assert told.joining.joiners == {"net c": "joiner of net c in map c"}
    assert (told.joining.ground, told.trying) == ("ground", "tried")
    named = [
        replace(one, node=node) for one, node in zip(reaches, (own.lamp, own.portal, own.spot), strict=True)
    ]
    first_, second = notes.questions
    assert (first_.vehicle, first_.joiner) == ("c", "joiner of net c in map c")
    assert (first_.joined, first_.every, first_.home, first_.others) == (
        tuple(named[:1]), tuple(named), named[0], tuple(named[1:]),
    )  # fmt: skip
    assert (second.joined, second.every, second.home, second.others) == ((), tuple(named[2:]), None, ())


def test_of_names_that_begin_alike_the_longest_is_meant() -> None:
    """In sentences one part's name may begin with another's, in either order of the parts."""
    for turned in (False, True):
        done, own = Car(1), Car(2)
        for car, needs in ((done, ("lamp b", "lamp b left")), (own, ("lamp c", "eye"))):
            car.names = replace(car.names, needs=needs[::-1] if turned else needs)
        why = "lamp b left beside lamp b, left of it"
        done.work.notes.unreached = [Unreached("net b", "lamp b left", "p0", why)]
        told: Any = retell(done.work, done.names, own.work, own.names)
        assert told.notes.unreached == [Unreached("net c", "eye", "p0", "eye beside lamp c, left of it")]
