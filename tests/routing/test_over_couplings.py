"""Couplings as they are asked of: pins, exits, drawbars, cavities; ports and mates of wires that stay."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.model.as_built import BuiltEnd, BuiltLeg, BuiltWire
from fitplan.routing.harness import coupling_crossings
from fitplan.routing.harness.coupling_crossings import (
    SHORTEST_DRAWBAR,
    LeftAt,
    _left_at,
    _limits,
    _pin,
    _side,
    length_of,
    wired_couplings,
)
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.negotiation.kept_wires import _Standing
from fitplan.routing.negotiation.layout import CouplingPorts, KeptLayout, Pulled


@dataclass(frozen=True)
class Hole:
    """A port, as far as couplings look at it."""

    name: str
    out: str
    mouth: tuple[float, float, float] = (0.0, 24.0, 30.0)
    is_open_end: bool = False


def wagon(
    name: str, *, turned: bool = False, length: float = 100.0, rear: Any = None, front: Any = None
) -> Any:
    """Return a vehicle 48 mm wide with wheels at 20 and 90 mm; couplings are (pivot, height, length)."""
    couplings = tuple(
        SimpleNamespace(end=end, pivot_x=own[0], height=own[1], length=own[2])
        for end, own in (("rear", rear), ("front", front))
        if own is not None
    )
    wheels = SimpleNamespace(at=(90.0, 20.0), bogie_wheelbase=16.0, wheel_radius=9.0)
    ports = (Hole("front hole", "+x"), Hole("rear hole", "-x"), Hole("roof", "+z"))
    vehicle = SimpleNamespace(length=length, width=48.0, wheels=wheels, couplings=couplings, ports=ports)

    def in_train(start: float, point: Any) -> Any:
        x, y, z = point
        return (start + (length - x if turned else x), (48.0 - y if turned else y) - 24.0, z)

    def coupling_length(end: str) -> float:
        own = "front" if (end == "ahead") != turned else "rear"
        return next((one.length for one in couplings if one.end == own), 0.0)

    def towards(end: str) -> str:
        return "+x" if (end == "ahead") != turned else "-x"

    return SimpleNamespace(
        name=name,
        turned=turned,
        vehicle=vehicle,
        in_train=in_train,
        coupling_length=coupling_length,
        towards=towards,
    )


@pytest.mark.parametrize("turned", [False, True])
def test_the_pin_and_the_exit_of_a_vehicle_either_way_round(turned: bool) -> None:
    """In running order x grows forwards; without a coupling the pin is at the end face, at axle height."""
    entry = wagon("a", turned=turned, rear=(4.0, 12.0, 8.0), front=(97.0, 14.0, 6.0))
    rear, front = ("ahead", "behind") if turned else ("behind", "ahead")
    assert _pin(entry, rear) == ((96.0 if turned else 4.0), 12.0)
    assert _pin(entry, front) == ((3.0 if turned else 97.0), 14.0)
    bare = wagon("a", turned=turned)
    assert _pin(bare, "ahead") == (100.0, 9.0)
    assert _pin(bare, "behind") == (0.0, 9.0)
    side = _side(entry, (4.0, 12.0), Hole("p", "+x", (100.0, 30.0, 25.0)), {})  # type: ignore[arg-type]
    assert (side.gear.rear, side.gear.front, side.gear.bogie_wheelbase) == (
        (10.0, 80.0, 16.0) if turned else (20.0, 90.0, 16.0)
    )
    assert side.exit == ((0.0, -6.0, 25.0) if turned else (100.0, 6.0, 25.0))
    left = {"a": LeftAt((99.0, 20.0, 40.0)), "b": LeftAt((1.0, 1.0, 1.0))}
    side = _side(entry, (4.0, 12.0), Hole("p", "+x"), left)  # type: ignore[arg-type]
    assert side.exit == ((1.0, 4.0, 40.0) if turned else (99.0, -4.0, 40.0))


def train(*entries: Any, measured: Any = None, pair: str = "") -> Any:
    return SimpleNamespace(
        vehicles=entries,
        vehicle=lambda name: next(one for one in entries if one.name == name),
        measured=SimpleNamespace(coupling=lambda ahead, behind: measured, date=lambda what: ""),
        track=SimpleNamespace(radius=320.0, reverse_curve=True, gradient_percent=4.0, least_straight=16.0),
        wiring=SimpleNamespace(coupling_slack="slack"),
        catalogue={}, pair_at=lambda ahead, behind: pair,
    )  # fmt: skip


def ports(ahead: str = "a", behind: str = "b", coupling: int = 0) -> CouplingPorts:
    return CouplingPorts(coupling, ahead, behind, Hole("rear hole", "-x"), Hole("front hole", "+x"))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Length:
    """What is told of a coupling's length."""

    governing: str = "a curve"


def test_drawbars_are_as_long_as_both_couplings_and_what_lies_before_the_faces(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Pin to face, the gap that both couplings make, face to pin; pins on one another are 1 mm apart."""
    asked: list[Any] = []

    def lengths(ahead: Any, behind: Any, drawbar: float, limits: Any, **more: Any) -> Any:
        asked.append((ahead, behind, drawbar, limits, more))
        return Length()

    monkeypatch.setattr(coupling_crossings, "coupling_lengths", lengths)
    a, b = wagon("a", rear=(4.0, 12.0, 8.0)), wagon("b", front=(97.0, 14.0, 6.0))
    left = {"a": LeftAt((0.0, 24.0, 30.0), 3.0), "b": LeftAt((100.0, 24.0, 30.0), 1.5)}
    found: Any = length_of(train(a, b), ports(), 3.5, left)
    assert found.governing == "a curve"
    ahead, behind, drawbar, limits, more = asked.pop()
    assert drawbar == 4.0 + (8.0 + 6.0) + (100.0 - 97.0)
    assert (ahead.coupling, behind.coupling) == ((4.0, 12.0), (97.0, 14.0))
    assert limits == _limits(train().track)
    assert (limits.radius, limits.reverse_curve, limits.gradient, limits.least_straight) == (
        320.0,
        True,
        0.04,
        16.0,
    )
    assert more == {
        "bundle_diameter": 3.5, "aside": 4.5, "slack": "slack", "least": 0.0, "measured": 0.0,
    }  # fmt: skip
    length_of(train(wagon("a"), wagon("b")), ports(), 3.5, {})
    assert asked.pop()[2] == SHORTEST_DRAWBAR
    # What was measured goes before, and is told with its date.
    known = SimpleNamespace(free_mm=44.0, date="2031-05-06")
    found = length_of(train(a, b, measured=known), ports(), 3.5, {})
    assert asked.pop()[4]["measured"] == 44.0
    assert found.governing == "measured on 2031-05-06"


def laid(net: str, vehicle: str, start: Any, end: Any) -> Any:
    return SimpleNamespace(segment=Segment(net, vehicle, start, end))


def test_wires_leave_an_open_end_about_their_middle() -> None:
    """The middle of the box round them, and the farthest from it; other portals and holes do not count."""
    one, two, shut, other = (Portal("n", 0, k) for k in range(4))
    at = {one: (0.0, 10.0, 30.0), two: (2.0, 16.0, 34.0), shut: (0.0, 40.0, 20.0), other: (0.0, 45.0, 9.0)}
    pin = NetEnd("n", "p", "p0", "a", (50.0, 20.0, 20.0), "+x")
    pieces = [laid("n", "a", pin, one), laid("n", "a", two, pin), laid("n", "a", shut, other)]
    pulled = {}
    for piece in pieces:
        ends = [at.get(node, (50.0, 20.0, 20.0)) for node in (piece.segment.start, piece.segment.end)]
        pulled[id(piece)] = Pulled((ends[0], (25.0, 20.0, 25.0), ends[1]), 1.0, 1.0, ())

    def side(open_end: bool) -> Any:
        return SimpleNamespace(port_in=lambda map_: Hole("p", "-x", is_open_end=open_end))

    layout: Any = SimpleNamespace(
        laid=pieces, maps={"a": None}, true_point=lambda vehicle, point: point,
        couplings={one: side(True), two: side(True), shut: side(False), other: side(True)},
    )  # fmt: skip
    found = _left_at(layout, pulled, {one, two, shut})
    assert set(found) == {"a"}
    assert found["a"].at == (1.0, 13.0, 32.0)
    assert found["a"].aside == pytest.approx(math.sqrt(1 + 9 + 4))
    assert _left_at(layout, pulled, {shut}) == {}


def test_the_farthest_of_all_wires_is_aside_of_their_middle() -> None:
    """Of three at an open end the outer ones, not the one that lies near the middle of the box round them."""
    portals = [Portal("n", 0, k) for k in range(3)]
    at = [(0.0, 10.0, 30.0), (0.0, 20.0, 30.0), (0.0, 14.0, 30.0)]
    pin = NetEnd("n", "p", "p0", "a", (50.0, 20.0, 20.0), "+x")
    pieces = [laid("n", "a", portal, pin) for portal in portals]
    pulled = {id(one): Pulled((point, pin.at), 1.0, 1.0, ()) for one, point in zip(pieces, at, strict=True)}
    side = SimpleNamespace(port_in=lambda map_: Hole("p", "-x", is_open_end=True))
    layout: Any = SimpleNamespace(
        laid=pieces, maps={"a": None}, true_point=lambda vehicle, point: point,
        couplings=dict.fromkeys(portals, side),
    )  # fmt: skip
    assert _left_at(layout, pulled, set(portals)) == {"a": LeftAt((0.0, 15.0, 30.0), 5.0)}


def test_cavities_are_given_ground_first_and_what_is_built_keeps_its_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ground, supply, signals, by net and lane; leads as bought beside; one-sided portals cross nothing."""
    monkeypatch.setattr(coupling_crossings, "length_of", lambda train, ports, thick, left: thick)
    monkeypatch.setattr(coupling_crossings, "_left_at", lambda *_: {})
    roles = {"z": "ground", "s": "supply", "a": "signal", "b": "signal", "sold": "signal", "half": "signal"}
    nets = [
        SimpleNamespace(name=name, role=role, lead="a lead" if name == "sold" else "")
        for name, role in roles.items()
    ]
    here, there = ports(), ports("b", "c", 1)
    portals = [
        Portal("b", 0, 2), Portal("a", 0, 9), Portal("b", 0, 1), Portal("sold", 0, 3), Portal("s", 0, 4),
        Portal("z", 0, 5), Portal("half", 0, 6), Portal("z", 1, 5),
    ]  # fmt: skip
    couplings = {one: here if one.coupling == 0 else there for one in portals}
    pin = NetEnd("n", "p", "p0", "a", (0.0, 0.0, 0.0), "+x")
    pieces = [
        laid(one.net, vehicle, pin, one)
        for one in portals
        for vehicle in ("a", "b")
        if one.net != "half" or vehicle == "a"
    ]
    kept = KeptLayout(couplings={1: "J1"}, cavities={Portal("a", 0, 9): 2})
    layout: Any = SimpleNamespace(laid=pieces, couplings=couplings, kept=kept)
    found = wired_couplings(layout, SimpleNamespace(nets=nets), dict.fromkeys(roles, 1.0), {})  # type: ignore[arg-type]
    assert set(found) == {one for one in portals if one.net != "half"}
    entry = found[portals[0]]
    assert entry.name == "J2"
    assert found[portals[7]].name == "J1"
    order = [("z", 5), ("a", 9), ("s", 4), ("b", 1), ("b", 2), ("sold", 3)]
    assert [(one.net, one.lane) for one in entry.portals] == order
    assert entry.cavities == (1, 2, 3, 4, 5)
    assert entry.whole == 1
    length: Any = entry.length
    assert (entry.diameter_mm, length) == pytest.approx((3.0, 3.0), abs=1e-6)  # six equal ones (Kravitz)


# -- wires that stay -----------------------------------------------------------------------------------------


def standing(*entries: Any, wires: tuple[BuiltWire, ...] = (), pair: str = "") -> Any:
    self: Any = _Standing.__new__(_Standing)
    self._train = train(*entries, pair=pair)
    self._train.as_built = SimpleNamespace(wires=wires, splice=lambda name: None, part=lambda need: None)
    self._order = {entry.name: k for k, entry in enumerate(entries)}
    self._images = frozenset()
    self._maps = {entry.name: SimpleNamespace(vehicle=entry.vehicle) for entry in entries}
    return self


@pytest.mark.parametrize("turned", list(itertools.product([False, True], repeat=3)))
def test_what_lies_beyond_a_port(turned: tuple[bool, bool, bool]) -> None:
    """The next vehicle on the side that the port looks to, in running order; none beyond the train's ends."""
    names = "abc"
    self = standing(*(wagon(name, turned=way) for name, way in zip(names, turned, strict=True)))
    for place, name in enumerate(names):
        forwards, back = ("rear hole", "front hole") if turned[place] else ("front hole", "rear hole")
        for leaves in (True, False):
            for port, step in ((forwards, -1), (back, 1), ("roof", None), ("gone", None)):
                leg = BuiltLeg(name, (), leaves=port) if leaves else BuiltLeg(name, (), enters=port)
                other = None if step is None else place + step
                wanted = names[other] if other is not None and 0 <= other < 3 else None
                assert _Standing._beyond(self, leg, leaves=leaves) == wanted
        assert _Standing._leg_there(self, BuiltLeg(name, (), "front hole", "rear hole"))
        assert not _Standing._leg_there(self, BuiltLeg(name, (), "front hole", "gone"))
        assert not _Standing._leg_there(self, BuiltLeg(name, (), "gone", ""))
    assert not _Standing._leg_there(self, BuiltLeg("d", ()))


def through(
    number: int, *names: str, start: BuiltEnd | None = None, end: BuiltEnd | None = None
) -> BuiltWire:
    legs = tuple(
        BuiltLeg(
            name,
            ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)),
            "front hole" if k else "",
            "rear hole" if k < len(names) - 1 else "",
        )
        for k, name in enumerate(names)
    )
    if start is not None and start.kind == "connector":
        legs = (replace(legs[0], enters="front hole"), *legs[1:])
    if end is not None and end.kind == "connector":
        legs = (*legs[:-1], replace(legs[-1], leaves="rear hole"))
    pin = BuiltEnd("pin", "p", "p0")
    return BuiltWire(number, "n", "RD", 28, 9.0, start or pin, end or pin, legs)


def test_legs_follow_one_another_where_no_connector_parts_them() -> None:
    one = through(1, "a", "b")
    whole, parted = (standing(wagon("a"), wagon("b"), wagon("c"), pair=pair) for pair in ("", "plug"))
    assert _Standing._over(whole, *one.legs)
    assert not _Standing._over(parted, *one.legs)
    assert not _Standing._over(whole, one.legs[0], replace(one.legs[1], vehicle="c"))
    assert not _Standing._over(whole, one.legs[0], replace(one.legs[1], enters="rear hole"))
    assert not _Standing._over(whole, replace(one.legs[0], leaves="front hole"), one.legs[1])
    found = _Standing._ports(whole, one.legs[0], True, one, 0)
    assert (found.coupling, found.ahead, found.behind) == (0, "a", "b")
    assert (found.port_ahead.name, found.port_behind.name) == ("rear hole", "front hole")
    assert _Standing._ports(whole, one.legs[1], False, one, 1) == found


def test_the_mate_of_a_wire_is_the_one_in_the_same_cavity() -> None:
    """Of the same net, whichever end it has there; a wire of another net or cavity is none."""
    at = BuiltEnd("connector", "J1", "2")
    mine = through(1, "a", end=at)
    others = {
        "starts": through(2, "b", start=at), "ends": through(2, "b", end=at),
        "net": replace(through(2, "b", start=at), net="m"),
        "cavity": through(2, "b", start=replace(at, pin="3")),
        "connector": through(2, "b", start=replace(at, owner="J2")),
        "kind": through(2, "b", start=replace(at, kind="pin")),
    }  # fmt: skip
    for name, other in others.items():
        self = standing(wagon("a"), wagon("b"), wires=(mine, other))
        found = _Standing._mate(self, mine, 0, True)
        if name == "starts":
            assert found == (other.legs[0], False)
        elif name == "ends":
            assert found == (other.legs[-1], True)
        else:
            assert found is None
    inside = through(3, "a", "b", "c")
    self = standing(wagon("a"), wagon("b"), wagon("c"))
    assert _Standing._mate(self, inside, 1, True) == (inside.legs[2], False)
    assert _Standing._mate(self, inside, 1, False) == (inside.legs[0], True)
    assert _Standing._mate(self, inside, 0, False) is None


def test_in_a_vehicle_that_was_turned_round_another_port_faces_the_wire() -> None:
    """The only one that looks that way now; of several, none is known to be meant."""
    wire = through(1, "a", "b")
    plain = standing(wagon("a"), wagon("b"))
    assert _Standing._facing(plain, wire.legs[0], True, wire, 0)[1].name == "front hole"  # type: ignore[index]
    turned = standing(wagon("a"), wagon("b", turned=True))
    assert _Standing._facing(turned, wire.legs[0], True, wire, 0)[1].name == "rear hole"  # type: ignore[index]
    two = wagon("b", turned=True)
    two.vehicle.ports = (*two.vehicle.ports, Hole("another", "-x"))
    assert _Standing._facing(standing(wagon("a"), two), wire.legs[0], True, wire, 0) is None
    elsewhere = standing(wagon("a"), wagon("c"), wagon("b"))
    assert _Standing._facing(elsewhere, wire.legs[0], True, wire, 0) is None


@pytest.mark.parametrize("image", [False, True])
def test_a_wire_stays_where_its_pin_is(image: bool) -> None:
    """At the very point, in the same vehicle, by the same name; in the vehicle's frame, not its image."""
    self = standing(wagon("a"), wagon("b"))
    self._images = frozenset({"a"} if image else ())
    y = 40.0 if image else 8.0
    pin = NetEnd("n", "p", "p0", "a", (5.0, y, 20.0), "+x")
    self._nets = {"n": SimpleNamespace(ends=[replace(pin, owner="first", others=(pin,))])}
    leg = BuiltLeg("a", ((5.0, 8.0, 20.0), (9.0, 9.0, 20.0)))
    wire = replace(through(1, "a"), legs=(leg,))

    def there(end: BuiltEnd, leg: BuiltLeg, first: bool = True) -> bool:
        return _Standing._end_there(self, wire, end, leg, first=first)

    own = BuiltEnd("pin", "p", "p0")
    assert there(own, leg)
    assert not there(own, leg, first=False)
    assert there(own, replace(leg, points=leg.points[::-1]), first=False)
    assert not there(replace(own, pin="p1"), leg)
    assert not there(own, replace(leg, vehicle="b"))
    assert not there(own, replace(leg, points=((5.0, 8.5, 20.0), (9.0, 9.0, 20.0))))
    splice = BuiltEnd("splice", "S1")
    assert not there(splice, leg)
    for net, vehicle, found in (("n", "a", True), ("m", "a", False), ("n", "b", False)):
        self._train.as_built.splice = lambda name, net=net, vehicle=vehicle: SimpleNamespace(
            net=net, vehicle=vehicle
        )
        assert there(splice, leg) is found


def test_a_part_is_as_it_was() -> None:
    """The same part in the same vehicle, pose and place, and not measured since."""
    self = standing(wagon("a"))
    was = SimpleNamespace(part="lamp", vehicle="a", pose="+x+y+z", offset=(1.0, 2.0, 3.0))
    self._train.as_built.part = lambda need: was if need == "eye" else None

    def placed(
        need: str = "eye", part: str = "lamp", vehicle: str = "a", pose: str = "+x+y+z", x: float = 1.0
    ) -> Any:
        place = SimpleNamespace(pose=SimpleNamespace(name=pose), offset=(x, 2.0, 3.0))
        return SimpleNamespace(need=need, part=SimpleNamespace(id=part), vehicle=vehicle, place=place)

    assert _Standing._as_it_was(self, placed())
    for other in (
        placed("ear"),
        placed(part="bell"),
        placed(vehicle="b"),
        placed(pose="+y-x+z"),
        placed(x=1.6),
    ):
        assert not _Standing._as_it_was(self, other)
    self._train.measured.date = lambda what: "2031-05-06"
    assert not _Standing._as_it_was(self, placed())
    assert _Standing._stays(self, placed())
