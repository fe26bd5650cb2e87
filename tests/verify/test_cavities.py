"""Cavities of a coupling that comes apart, one lie at a time; discs in a frame, tracks in closed form."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitplan.model.electrical import Connector
from fitplan.model.part import Mount, Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.vehicle import PARTED
from fitplan.model.wired import Unreached, Wire, WireEnd
from fitplan.verify.couplings import _cavities, how_often
from fitplan.verify.leads import _fits_at
from fitplan.verify.overlap import _discs_in_frame
from fitplan.verify.poses import _Line
from fitplan.verify.result import Tally
from fitplan.verify.shapes import Disc
from fitplan.workbench.as_built import as_built_of

from .lies import harness_with, placed_with, train_with
from .two_vehicles import LAMP, WIRES, part, plan

NAME, PAIR = "loco to wagon", "pair"


def pair(cavities: int = 2) -> Part:
    figures = Connector(cavities, 24, 30, 1000.0, True)
    return replace(part(PAIR, Box((0, 0, 0), (5, 5, 5)), mount=Mount()), electrical=(figures,))


def end(vehicle: str, cavity: int) -> WireEnd:
    return WireEnd("connector", NAME, str(cavity), vehicle, (0.0, 0.0, 0.0), 4.0)


def parted(order: tuple[str, ...] = ("1 ground", "2 light"), connector: str = PAIR, **changes: Any) -> Plan:
    """The small plan with both its wires over the coupling cut in two, each half in its cavity."""
    old = plan()
    light, _, ground, cell = WIRES
    halves = [
        replace(ground, end=end("loco", 1)),
        replace(light, end=end("loco", 2)),
        replace(ground, number=6, start=end("wagon", 1)),
        replace(light, number=5, start=end("wagon", 2)),
    ]
    crossing = replace(old.built.harness.crossings[0], connector=connector, pin_order=order, **changes)
    made = harness_with(old, wires=(*halves, WIRES[1], cell), crossings=(crossing,))
    wiring = replace(made.built.train.wiring, coupling_connector=PAIR)
    return train_with(made, wiring=wiring, catalogue={PAIR: pair()})


def told(made: Plan, over: Sequence[int] | None = None) -> list[str]:
    """What is wrong with the cavities."""
    (crossing,) = made.built.harness.crossings
    wires = {one.number: one for one in made.built.harness.wires}
    sheet = Tally()
    _cavities(made.built, crossing, [wires[n] for n in over or crossing.wires], wires, sheet)
    report = sheet.report()
    return [one.message for one in (*report.problems, *report.notes)]


def rewired(number: int, **changes: Any) -> Plan:
    made = parted()
    wires: tuple[Wire, ...] = made.built.harness.wires
    return harness_with(made, wires=tuple(replace(w, **changes) if w.number == number else w for w in wires))


def test_cavities_that_are_right() -> None:
    assert told(parted()) == []
    assert told(plan()) == []


ARE, NONE = "its wires are 1 ground, 2 light", "pair is no connector of the plan"


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (parted(("1 light", "2 ground")), [f"has cavities 1 light, 2 ground; {ARE}"]),
        (parted(("1 ground", "3 light")), [f"has cavities 1 ground, 3 light; {ARE}"]),
        (parted(beside=(3,)), ["does not tell which leads as bought pass it in one piece"]),
        (train_with(parted(), catalogue={}), [NONE]),
        (train_with(parted(), catalogue={PAIR: replace(pair(), electrical=())}), [NONE]),
        (train_with(parted(), catalogue={PAIR: pair(1)}), ["2 wires in 1 cavities"]),
        (train_with(parted(), catalogue={PAIR: pair(3)}), []),
        (rewired(5, start=end("wagon", 3)), ["cavity 2 on the side of wagon is for light, and has no wire",
                                             "wire 5 ends in cavity '3' on the side of wagon"]),
        (rewired(1, end=end("loco", 3)), ["cavity 2 on the side of loco is for light, and has no wire",
                                          "wire 1 ends in cavity '3' on the side of loco"]),
        (rewired(6, net="light"), ["cavity 1 on the side of wagon is for ground, and has wire 6 of light"]),
        (rewired(1, end=replace(end("loco", 2), owner="another")),
         ["cavity 2 on the side of loco is for light, and has no wire"]),
        (rewired(1, end=replace(end("loco", 2), kind="pin")),
         ["cavity 2 on the side of loco is for light, and has no wire"]),
        (rewired(4, start=end("loco", 4)), ["wire 4 ends in cavity '4' on the side of loco"]),
    ],
)  # fmt: skip
def test_cavities_that_are_not(made: Plan, words: list[str]) -> None:
    assert told(made) == words


def test_ground_comes_first_then_supply_then_signals() -> None:
    turned = parted(("1 light", "2 ground"), wires=(1, 3))
    wires = turned.built.harness.wires
    swapped = {3: end("loco", 2), 1: end("loco", 1)}
    starts = {6: end("wagon", 2), 5: end("wagon", 1)}
    made = harness_with(turned, wires=tuple(
        replace(w, end=swapped.get(w.number, w.end), start=starts.get(w.number, w.start)) for w in wires
    ))  # fmt: skip
    assert told(made) == ["does not have ground first, then supply, then signals"]
    # What is built keeps its cavity, whatever its role.
    kept = train_with(made, as_built=as_built_of(plan()))
    assert told(kept) == []


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (("1 ground", "2 light"), []),
        (("0 ground", "2 light"), ["numbers its cavities in no order"]),
        (("2 ground", "1 light"), ["numbers its cavities in no order"]),
        (("1 ground", "1 light"), ["numbers its cavities in no order"]),
        (("1 ground",), ["numbers its cavities in no order"]),
        (("one ground", "2 light"), ["numbers its cavities in no order"]),
    ],
)
def test_what_is_built_keeps_its_cavity(order: tuple[str, ...], words: list[str]) -> None:
    assert told(train_with(parted(order), as_built=as_built_of(plan()))) == words


def test_an_empty_cavity_between_what_is_built() -> None:
    made = train_with(
        parted(("1 ground", "3 light")), as_built=as_built_of(plan()), catalogue={PAIR: pair(3)}
    )
    moved = {1: {"end": end("loco", 3)}, 5: {"start": end("wagon", 3)}}
    wires = made.built.harness.wires
    made = harness_with(made, wires=tuple(replace(w, **moved.get(w.number, {})) for w in wires))  # type: ignore[arg-type]
    assert told(made) == []
    small = train_with(made, catalogue={PAIR: pair(2)})
    assert told(small) == ["2 wires in 2 cavities"]
    lost = replace(made.built.harness, unreached=(Unreached(NAME, "", "", "no cavity"),))
    assert told(replace(small, built=replace(small.built, harness=lost))) == []


def test_a_connector_is_what_the_train_asks_for_and_none_where_it_is_never_parted() -> None:
    other = parted(connector="other")
    assert "has the connector 'other'; asked is pair" in told(other)
    bare = parted(connector="")
    assert told(bare) == ["has the connector ''; asked is pair", "has no connector, and wires end in one"]
    loco, wagon = parted().built.train.vehicles
    for vehicle, ends in ((loco, ("rear",)), (wagon, ("front",))):
        for parting in PARTED:
            asked = "none" if parting == "never" else ""
            couplings = tuple(
                replace(one, parted=parting) if one.end in ends else one for one in vehicle.vehicle.couplings
            )
            changed = replace(vehicle, vehicle=replace(vehicle.vehicle, couplings=couplings))
            made = train_with(parted(), vehicles=tuple(changed if v is vehicle else v for v in (loco, wagon)))
            assert how_often(made.built, made.built.harness.crossings[0]) == parting
            assert told(made) == ([f"has the connector 'pair'; asked is {asked}"] if asked else [])
            far = {"rear": "front", "front": "rear"}[ends[0]]
            beside = tuple(
                replace(one, parted=parting) if one.end == far else one for one in vehicle.vehicle.couplings
            )
            changed = replace(vehicle, vehicle=replace(vehicle.vehicle, couplings=beside))
            made = train_with(parted(), vehicles=tuple(changed if v is vehicle else v for v in (loco, wagon)))
            assert how_often(made.built, made.built.harness.crossings[0]) == "storage"
            turned = replace(changed, turned=True)
            made = train_with(parted(), vehicles=tuple(turned if v is vehicle else v for v in (loco, wagon)))
            assert how_often(made.built, made.built.harness.crossings[0]) == parting


@pytest.mark.parametrize(
    ("joint", "socket", "fits"),
    [
        ("attached", "", ("bare",)),
        ("plug", "micro-B", ("micro-B",)),
        ("plug", "", ()),
        ("header", "", ("socket",)),
        ("header", "micro-B", ("socket",)),
        ("solder", "", ("bare",)),
    ],
)
def test_what_a_lead_has_at_a_pin(joint: Any, socket: Any, fits: tuple[str, ...]) -> None:
    pins = (replace(LAMP.pins[0], joint=joint, socket=socket), *LAMP.pins[1:])
    made = placed_with(plan(), "lamp", part=replace(LAMP, pins=pins))
    there = WIRES[0].end
    assert _fits_at(made.built, there) == fits
    assert _fits_at(made.built, replace(there, kind="splice")) == ()
    assert _fits_at(made.built, replace(there, pin="another")) == ()


@pytest.mark.parametrize(("sockets", "fits"), [(True, ("socket",)), (False, ())])
def test_what_a_lead_has_at_a_coupling(sockets: bool, fits: tuple[str, ...]) -> None:
    """Sockets of single leads go onto a row of pins alone."""
    figures = Connector(2, 24, 30, 1000.0, True, sockets)
    made = train_with(parted(), catalogue={PAIR: replace(pair(), electrical=(figures,))})
    assert _fits_at(made.built, end("loco", 1)) == fits
    assert _fits_at(train_with(made, catalogue={}).built, end("loco", 1)) == ()
    assert _fits_at(made.built, replace(end("loco", 1), owner="another")) == ()


# -- discs and tracks --------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_discs_meet_in_a_frame_where_points_of_a_grid_lie_in_all_three(seed: int) -> None:
    """Where many points do they meet; where none does even with a rim of 0.2 mm they do not."""
    rng = np.random.default_rng(seed)
    answers = set()
    for _ in range(50):
        discs = [Disc((float(x), float(y)), float(r)) for x, y, r in zip(
            rng.uniform(-3, 3, 2), rng.uniform(-3, 3, 2), rng.uniform(0.4, 4, 2), strict=True)]  # fmt: skip
        (u0, u1), (v0, v1) = (sorted(float(v) for v in rng.uniform(-3, 3, 2)) for _ in range(2))
        grid = np.arange(-7, 7, 0.1)
        x, y = np.meshgrid(grid, grid)

        def common(rim: float, x: np.ndarray = x, y: np.ndarray = y, discs: list[Disc] = discs,
                   frame: tuple[float, ...] = (u0, u1, v0, v1)) -> bool:  # fmt: skip
            inside = (x > frame[0] - rim) & (x < frame[1] + rim) & (y > frame[2] - rim) & (y < frame[3] + rim)
            for disc in discs:
                inside &= np.hypot(x - disc.center[0], y - disc.center[1]) < disc.radius + rim
            return bool(inside.any())

        found = _discs_in_frame(discs[0], discs[1], ((u0, u1), (v0, v1)))
        if common(-0.05):
            assert found
        if not common(0.2):
            assert not found
        answers.add(found)
    assert answers == {True, False}


@pytest.mark.parametrize("radius", [320.0, -450.0])
def test_a_track_is_straight_or_a_circle_and_climbs_behind_its_kink(radius: float) -> None:
    s = np.array([-200.0, -30.0, 0.0, 40.0, 200.0])
    ones = np.ones(len(s))
    none = 0.0 * ones
    line = _Line(none, none, ones / radius, none, 20.0 * ones, 0.03 * ones, none, none)
    for (x, y, z), at in zip(line.at(s).tolist(), s.tolist(), strict=True):
        curved = at > 0
        assert x == pytest.approx(radius * math.sin(at / radius) if curved else at)
        assert y == pytest.approx(radius * (1 - math.cos(at / radius)) if curved else 0.0)
        assert z == pytest.approx(0.03 * max(at - 20.0, 0.0))
    turned = _Line(ones / radius, none, none, none, 20.0 * ones, none, none, none)
    assert turned.at(s)[0, 1] == pytest.approx(radius * (1 - math.cos(200 / radius)))
    guide = turned.guide(s, 60.0)
    assert guide == pytest.approx((turned.at(s - 30.0) + turned.at(s + 30.0)) / 2)
    assert turned.guide(s, 0.0) == pytest.approx(turned.at(s))
