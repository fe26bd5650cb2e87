"""Edges that other tests pass by: two things of which only one counts, digits, and the order of looking."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks import stopping
from fitplan.checks.ahead_of_fuse import _homes
from fitplan.checks.asked import _both_ways, _hours, _receivers
from fitplan.checks.beam import cast
from fitplan.checks.braking import Braking
from fitplan.checks.connector_bodies import CouplingGap, _in_gap
from fitplan.checks.curve_view import Sighting, watch_of
from fitplan.checks.curves import _longer
from fitplan.checks.ends import PlacedRanger, lens_center
from fitplan.checks.outline import outline_of
from fitplan.checks.stopping import _in_curve, _of_eye, _other_help
from fitplan.checks.supply import check_supply
from fitplan.checks.supply_limits import DEFAULTS, regulator_limits
from fitplan.checks.support import SupportSettings, check_support, in_the_air
from fitplan.checks.wire_bends import bend_findings
from fitplan.checks.wire_ends import end_findings
from fitplan.checks.without_iron import _costs, _form_without
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack, Connector, Load, Ranger
from fitplan.model.found import Finding
from fitplan.model.needed import Choice
from fitplan.model.operation import Running, Track
from fitplan.model.part import Access, Clearance, Mount
from fitplan.model.placed import ITS_MOUNT, Placement
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Coupling, Vehicle, Window
from fitplan.model.wired import BoughtLead, Harness, Splice
from fitplan.model.wiring_facts import LegBends, Shortage, WiringFacts
from fitplan.model.words import listed
from fitplan.pins.train_circuit import TrainCircuit
from tests.checks.test_connector_bodies import coupled, pair
from tests.checks.test_supply_rule_by_rule import LIFT, behind, tree
from tests.checks.test_support import FLOOR, deck
from tests.circuit.sample_parts import (
    box,
    cells,
    emitter,
    need,
    net,
    part,
    pin,
    ranger,
    train,
    vehicle,
)
from tests.circuit.test_leads import wire
from tests.packing.small_trains import block
from tests.verify.lies import placed_with, train_with, wire_with
from tests.verify.two_vehicles import BOARD, LAMP, plan

# -- without an iron ---------------------------------------------------------------------------------------

SOCKETS = Clearance("sockets", "lead", Box((20, 0, 0), (28, 10, 5)), "always")


def test_of_several_parts_each_is_asked_for_its_soldered_form() -> None:
    """One without such a form, and one of the same size, come before one that is larger with sockets."""
    made = train_with(plan(), catalogue={"lamp": LAMP, "board": BOARD})
    same = replace(LAMP, id="lamp-pins")
    made = placed_with(made, "lamp", part=same)
    made = placed_with(made, "board", part=replace(BOARD, id="board-pins", clearances=(SOCKETS,)))
    for order in (1, -1):
        turned = replace(made.built, placements=made.built.placements[::order])
        (told,) = _costs(turned)
        assert told.figure == pytest.approx(0.4)
        assert "lamp" not in told.message
    both = wire_with(made, 1, lead=BoughtLead("lead", 200.0, "loco", fold=Box((0, 0, 0), (20, 10, 5))))
    (told,) = _costs(both.built)
    assert told.figure == pytest.approx(1.4)
    assert "; what is left over of a lead takes 1.0 cm³" in told.message


def test_the_form_that_does_without_an_iron() -> None:
    """With sockets at all its pins; none where one is soldered, or where it is this very form."""
    plugs = tuple(replace(one, joint="header") for one in BOARD.pins)
    form = replace(BOARD, id="board-pins", pins=plugs, clearances=(SOCKETS,))
    made = train_with(plan(), catalogue={"board-pins": form})
    words = _form_without(made.built, "board")
    assert words == (
        "take board-pins: with its sockets it wants 28.0 × 10.0 × 5.0 mm, that is +8.0, +0.0, +0.0 mm along "
        "x, y and z"
    )
    half = replace(form, pins=(*plugs[:1], *BOARD.pins[1:]))
    none = train_with(plan(), catalogue={"board-pins": half})
    assert _form_without(none.built, "board").startswith("no form of it")
    own = placed_with(made, "board", part=form)
    assert _form_without(own.built, "board").startswith("no form of it")
    assert _form_without(plan().built, "board").startswith("no form of it")
    assert _form_without(plan().built, "nobody").startswith("take a connector pair")


# -- couplings ---------------------------------------------------------------------------------------------


def test_a_pair_that_is_proposed_takes_the_wires_that_meet_in_it() -> None:
    """Of 24 AWG one for 28 AWG and thinner is no help, however thin; a wire that is not there is none."""
    thin = replace(pair("thin", height=5.0), electrical=(Connector(6, 28, 30, 2000.0, True),))
    for awg, named in ((24, False), (28, True)):
        one = coupled(20.0, pair(), thin)
        at = replace(one.harness.crossings[0], wires=(1, 7))
        harness = replace(one.harness, wires=(wire(1, "n", "a.x", "b.y", 90.0, awg),), crossings=(at,))
        found = _in_gap(replace(one, harness=harness), at, pair(), CouplingGap(8.0, 48.0, 51.0))
        assert ("take thin" in found.remedy) is named


def hooked(length: float) -> Vehicle:
    return vehicle(couplings=(Coupling("front", 168.0, 10.0, length), Coupling("rear", 8.0, 10.0, length)))


@pytest.mark.parametrize("short", [1.5, 12.25, 27.0, 39.0])
def test_a_coupling_is_longer_by_up_to_forty_millimetres(short: float) -> None:
    """Bodies that overlap by so much less a millimetre on straight track: to the next half millimetre."""
    shape = hooked((1.0 - short) / 2)
    vehicles = [TrainVehicle("a", shape), TrainVehicle("b", shape)]
    made = train([], [], vehicles, track=Track(0.0))
    one = BuiltTrain(made, (), Harness(), ())
    slices = {name: outline_of(one, name).bands(np.arange(0.0, 80.0, 3.2)) for name in ("a", "b")}
    longer = _longer(made, vehicles[0], vehicles[1], slices, 1.0)
    assert longer == math.ceil(2 * short - 1e-9) / 2
    assert _longer(made, vehicles[0], vehicles[1], slices, 1.0 + 40.5 - short) == 0.0


# -- supplies ----------------------------------------------------------------------------------------------


def test_a_step_up_is_held_to_what_it_gives_at_peak() -> None:
    """600 mA at 5 V from two cells of 3.16 V behind 0.3 Ω: V² − 3.16 V + 0.3·5·0.6/0.8 = 0."""
    two = CellPack("alkaline", "LR6", 2, 2200.0, 0.15, 5000.0)
    one = tree(behind(replace(LIFT, max_ma=900.0, in_max_ma=1300.0)), two)
    loads = replace(one.root.links[0].below, fed=(replace(one.root.links[0].below.fed[0], peak_ma=600.0),))
    one = replace(one, root=replace(one.root, links=(replace(one.root.links[0], below=loads),)))
    volts = (3.16 + math.sqrt(3.16**2 - 4 * 0.3 * 5 * 0.6 / 0.8)) / 2
    found = [
        each
        for each in regulator_limits(one, one.root.links[0], 3.0, {}, DEFAULTS)
        if "is asked for" in each.message
    ]
    assert [(each.figure, each.limit) for each in found] == [(600.0, round(1300 * 0.8 * volts / 5, 1))]


def test_sources_that_feed_nobody_or_are_unlike_are_passed_over() -> None:
    """Of three sources the one that feeds is judged; unlike cells in series are told among the nets."""
    load = part("load", Load(1.0, 9.0, 10.0, 20.0), pins=[pin("V", "supply"), pin("G", "ground")])
    unlike = cells(2, capacity=900.0)
    made = train(
        [
            need("idle", cells(2)),
            need("upper", cells(2)),
            need("lower", unlike),
            need("cells", cells(2)),
            need("load", load),
            need("more", load),
        ],
        [
            net("s", "supply", "upper.minus", "lower.plus"),
            net("p", "supply", "upper.plus", "more.V"),
            net("q", "supply", "cells.plus", "load.V"),
            net("g", "ground", "lower.minus", "more.G", "cells.minus", "load.G", "idle.minus"),
        ],
    )
    outcome = check_supply(BuiltTrain(made, (), Harness(), ()))
    assert [row[0] for row in outcome.tables[0].rows] == ["cells"]


# -- wiring ------------------------------------------------------------------------------------------------


def test_bends_are_told_to_a_hundredth() -> None:
    """Tightest 2.3456 of 3.1113 mm, at an end 1.2345."""
    one = LegBends(1, "loco", 1.55566, 4, 2.3456, (1.0, 2.0, 3.0), 1.2345)
    findings, table = bend_findings([one])
    assert [(each.figure, each.limit) for each in findings] == [(2.35, 3.11), (1.23, 3.11)]
    assert table is not None
    assert table.rows[0][-1] == 2.35


def test_places_with_too_few_pins_and_splices_out_of_sight() -> None:
    """Each shortage, at a board or at a pin; of several splices those that no opening is ahead of."""
    short = Shortage("five", "brain", "5V", "loco", 4, 2, False)
    splices = tuple(Splice(name, "five", "loco", (1.04, 2.0, 3.0), ()) for name in ("S1", "S2"))
    facts = WiringFacts(shortages=(short, replace(short, owner="rail", board=True)), hidden_splices=("S2",))
    first, second, third = end_findings(Harness(splices=splices, facts=facts))
    assert (first.where, first.figure, first.limit) == ("brain.5V in loco", 4.0, 2.0)
    assert first.message.startswith("4 wires of the net five want to end at brain.5V, which has room for 2")
    assert second.message.startswith("4 wires of the net five want a pin of rail, which has room for 2")
    assert second.remedy.startswith("take a distribution board with more pins")
    assert (third.where, third.figure, third.limit) == ("S2 in loco at 1.0, 2.0, 3.0 mm", 0.0, 1.0)


# -- stopping in curves ------------------------------------------------------------------------------------

EYE = PlacedRanger("eye", ranger(), Ranger("sound", 15.0, 20.0, 400.0, 60.0), None, 0.0, None)
BRAKING = Braking(0.1, 0.2, 600.0, math.inf, 20.0)


def bent(running: Running | None = None) -> BuiltTrain:
    made = train([need("eye", ranger())], [], running=running or Running(300.0), track=Track(320.0))
    return BuiltTrain(made, (), Harness(), ())


def curved(farthest: float, needed: float, monkeypatch: pytest.MonkeyPatch, nearest: float = 0.0) -> Finding:
    asked: list[float] = []

    def worst(watch: object, radius: float, most: float) -> Sighting:
        asked.append(most)
        return Sighting(nearest, farthest, "in the curve to the left")

    monkeypatch.setattr(stopping, "worst_stretch", worst)
    monkeypatch.setattr(stopping, "_other_help", lambda *_: "; more")
    found = _in_curve(bent(), EYE, BRAKING, needed)
    assert asked == [min(needed, 1.05 * 400.0) + 40.0]
    return found


@pytest.mark.parametrize(
    ("farthest", "needed", "severity", "words"),
    [
        (200.0, 150.0, "note", "from 5 mm to at least 150 mm along"),
        (150.0, 150.0, "note", "from 5 mm to at least 150 mm along"),
        (149.0, 150.0, "stop", "from 5 mm to 149 mm along"),
        (149.8, 150.2, "stop", "from 5 mm to 149.8 mm along"),  # in whole millimetres it would read as enough
        (149.4, 150.4, "stop", "from 5 mm to 149 mm along"),
        (300.0, 500.0, "stop", "from 5 mm to 300 mm along"),
        (0.0, 150.0, "stop", "meets nothing that stands on the track"),
    ],
)
def test_how_far_along_a_curve_it_sees(
    farthest: float, needed: float, severity: str, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = curved(farthest, needed, monkeypatch, 5.0)
    assert (found.severity, found.figure, found.limit) == (severity, needed, farthest)
    assert words in found.message
    digits = 1 if (farthest, needed) == (149.8, 150.2) else 0
    assert found.message.endswith(f"at 300 mm/s the train must see {needed:.{digits}f} mm ahead")
    assert found.remedy.endswith("; more") is (severity == "stop")
    assert ("keep obstacles to straight track" in found.remedy) is (farthest == 0.0)
    assert ("run no faster than" in found.remedy) is (severity == "stop" and farthest > 0)


@pytest.mark.parametrize(
    ("turn", "second", "beam", "words"),
    [
        (7, 10, 20, ", or turn eye inwards by 7°"),
        (0, 10, 20, "turned inwards by 10° (one each way), or use a ranger whose beam is 20° wide"),
        (0, 10, 0, "turned inwards by 10° (one each way)"),
        (0, 0, 20, ", or use a ranger whose beam is 20° wide"),
        (0, 0, 0, ""),
    ],
)  # fmt: skip
def test_what_else_helps_in_a_curve(
    turn: int, second: int, beam: int, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A turn goes before a second one and a wider beam; beyond its reach only a longer one helps."""
    for name, value in (("turn", turn), ("second", second), ("beam", beam)):
        monkeypatch.setattr(stopping, f"{name}_that_helps", lambda *_, v=value: v)
    watch = watch_of(bent(), EYE)
    said = _other_help(EYE, watch, 320.0, 400.0)
    assert words in said
    assert bool(said) is bool(words)
    assert _other_help(EYE, watch, 320.0, 400.1) == ", and use a ranger of longer reach"


@pytest.mark.parametrize(
    ("trip", "reach", "figure", "remedy"),
    [
        (0.0, 190.0, None, ""),
        (0.0, 189.0, 190.0, "set the trip distance to 189 mm"),
        (0.0, 184.0, 190.0, "use a ranger of longer reach"),
        (300.0, 300.0, None, ""),
        (300.0, 299.0, 300.0, "set the trip distance to 190 mm"),
        (300.04, 299.0, 300.0, "set the trip distance to 190 mm"),
    ],
)
def test_a_ranger_reaches_as_far_as_the_train_must_stop(
    trip: float, reach: float, figure: float | None, remedy: str
) -> None:
    """185 mm are needed and 190 written down; nearer than needed only another ranger, or slower running."""
    one = bent(Running(300.0, trip_distance=trip))
    one = replace(one, train=replace(one.train, track=Track(0.0)))
    eye = replace(EYE, figures=replace(EYE.figures, reach_mm=reach))
    found = [
        each
        for each in _of_eye(one, eye, BRAKING, stopping.DEFAULTS)
        if each.limit == reach and each.severity == "stop"
    ]
    assert [each.figure for each in found] == ([figure] if figure else [])
    for each in found:
        assert remedy in each.remedy
        assert ("reaches less far than the distance" in each.message) is (reach < 185.0)


# -- what is asked -----------------------------------------------------------------------------------------


def eyes(*ahead: bool | None, push_pull: bool | None = None) -> list[tuple[str, str]]:
    """Severities and places of what is told of rangers that look so, in a train of one vehicle."""
    made = train(
        [need(f"e{i}", ranger()) for i, _ in enumerate(ahead)],
        [],
        running=Running(300.0, push_pull=push_pull),
    )
    placed = []
    for i, way in enumerate(ahead):
        pose = {True: "+x+y+z", False: "-x-y+z", None: "+y-x+z"}[way]
        placed.append(
            Placement(f"e{i}", ranger(), "shunter", Place(pose_named(pose), (80.0, 24.0, 30.0)), "body")
        )
    return [(one.severity, one.where) for one in _both_ways(BuiltTrain(made, tuple(placed), Harness(), ()))]


@pytest.mark.parametrize(
    ("ahead", "push_pull", "told"),
    [
        ((True,), None, [("caution", "e0")]),
        ((True,), True, [("stop", "e0")]),
        ((True,), False, []),
        ((False,), False, [("stop", "e0")]),
        ((False, False), False, [("stop", "e0, e1")]),
        ((True, False), False, []),
        ((True, False), None, []),
        ((True, True), None, [("caution", "e0, e1")]),
        ((False, False), True, [("stop", "e0, e1")]),
        ((True, None), True, [("stop", "e0")]),  # one that looks aside watches no way
        ((), True, []),
        ((None,), True, []),
    ],
)
def test_rangers_for_the_ways_that_a_train_runs(
    ahead: tuple[bool | None, ...], push_pull: bool | None, told: list[tuple[str, str]]
) -> None:
    assert eyes(*ahead, push_pull=push_pull) == told


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("out", "back"), [("+x", False), ("-x", True)])
def test_rangers_without_a_place_watch_by_their_windows(turned: bool, out: str, back: bool) -> None:
    """Of a train that runs forwards only one at the rear looks back; one at a side watches no way."""
    gap = Window("gap", box(0, 20, 30, 0, 28, 40), out)  # type: ignore[arg-type]
    side = Window("side", box(40, 48, 30, 60, 48, 40), "+y")
    shape = TrainVehicle("v", vehicle("v", windows=(gap, side)), turned)

    def told(name: str, push_pull: bool | None) -> list[str]:
        eye = replace(need("eye", ranger()), looks=("v", name))
        made = train([eye], [], [shape], running=Running(300.0, push_pull=push_pull))
        return [one.severity for one in _both_ways(BuiltTrain(made, (), Harness(), ()))]

    assert told("gap", False) == (["stop"] if back != turned else [])
    assert told("gap", True) == ["stop"]
    assert told("side", False) == told("side", True) == []


def test_where_a_fuse_is_to_lie() -> None:
    """In the vehicle where the source's own wires begin, at either end."""
    far = wire(1, "n", "s.a", "brain.V")
    near = replace(far, end=replace(far.end, owner="cells", vehicle="van"))
    turned = replace(far, start=replace(far.start, owner="cells", vehicle="loco"))
    assert _homes([far, near, turned], "cells") == ["van", "loco"]
    assert _homes([far], "cells") == []


@pytest.mark.parametrize(
    ("sits", "words"),
    [
        (("v", "ear", "top"), ""),
        (("v", "motor", "top"), "it sits on a motor"),
        (("w", "ear", "top"), "it sits on nothing that receives"),
        (None, "it sits on nothing that receives"),
    ],
)
def test_where_an_emitter_sits(sits: tuple[str, str, str] | None, words: str) -> None:
    """On a receiver of that very vehicle; what is no emitter is not asked."""
    items = tuple(
        BuiltIn(name, kind, (box(0, 0, 0, 1, 1, 1),))
        for name, kind in (("motor", "motor"), ("ear", "receiver"))
    )
    made = train(
        [need("eye", ranger()), replace(need("emitter", emitter()), sits=sits)],
        [],
        [TrainVehicle("w", vehicle("w")), TrainVehicle("v", vehicle("v", built_in=items))],
    )
    chosen = {one.name: one.candidates[0] for one in made.needs}
    found = list(_receivers(made, chosen))
    assert [words in one.message for one in found] == ([True] if words else [])
    assert list(_receivers(made, {"eye": ranger()})) == []


@pytest.mark.parametrize(
    ("pose", "at"),
    [("+x+y+z", (100.0, 20.0, 35.0)), ("-x-y+z", (60.0, -10.0, 35.0)), ("+z+y-x", (85.0, 20.0, 40.0))],
)
def test_the_middle_of_a_lens(pose: str, at: Vec) -> None:
    """Of its own lens; without one of its front: 20 mm ahead, and 15 and 5 mm from its edges."""
    plain = part("x", size=(20.0, 30.0, 10.0), mount=Mount(looks="+x"))
    lies = Placement("x", plain, "v", Place(pose_named(pose), (80.0, 5.0, 30.0)), "body")
    turned = lies.place.move((20.0, 15.0, 5.0))
    assert lens_center(lies) == pytest.approx(turned)
    lens = replace(plain, mount=Mount(looks="+x", lens=Box((20.0, 4.0, 2.0), (20.0, 8.0, 4.0))))
    assert lens_center(replace(lies, part=lens)) == pytest.approx(lies.place.move((20.0, 6.0, 3.0)))
    blind = replace(plain, mount=Mount())
    assert lens_center(replace(lies, part=blind)) == pytest.approx(lies.place.move((10.0, 15.0, 5.0)))
    if pose == "+x+y+z":
        assert turned == at


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [(0.0, 500.0, ["b"]), (500.0, 0.0, ["a"]), (500.0, 500.0, ["a", "b"]), (1.0, 1.0, [])],
)
def test_hours_are_asked_of_each_source(first: float, second: float, told: list[str]) -> None:
    """Of two sources each by its own choice; one that feeds nobody is passed over."""
    load = part("load", Load(1.0, 9.0, 50.0, 50.0), pins=[pin("V", "supply"), pin("G", "ground")])
    asked = {"idle": 500.0, "a": first, "b": second}
    needs = [
        need(name, cells(2), choice=Choice("cells", min_hours=hours) if hours else None)
        for name, hours in asked.items()
    ]
    made = train(
        [*needs, need("x", load), need("y", load)],
        [
            net("p", "supply", "a.plus", "x.V"),
            net("q", "supply", "b.plus", "y.V"),
            net("g", "ground", "a.minus", "b.minus", "x.G", "y.G"),
        ],
    )
    found = list(_hours(BuiltTrain(made, (), Harness(), ()), TrainCircuit.of(made, {})))
    assert [one.where for one in found] == told
    for one in found:
        # Two cells of 2500 mAh, and a gentle load of which they lose less.
        assert 2500 / 50 * 0.8 < one.figure < 2500 / 50 * 1.25
        assert one.limit == 500.0
        assert f"ask for {math.floor(10 * one.figure) / 10:g} h or fewer" in one.remedy


@pytest.mark.parametrize(("gap", "figure"), [(10.0, 10.0), (8.1, 8.1), (None, 1000.0)])
def test_how_far_a_load_slides(gap: float | None, figure: float) -> None:
    """To the brick that stops it; over an edge it is told as a metre."""
    wall = BodySolid(Box((60 + (gap or 0), 14, FLOOR), (72 + (gap or 0), 34, FLOOR + 9.6)), "fixed")
    load = block("bank", (20.0, 20.0, 8.0), mass_g=50.0)
    lies = Placement("bank", load, "v", Place(pose_named("+x+y+z"), (40.0, 14.0, FLOOR)), "the body")
    made = train([need("bank", load)], [], [TrainVehicle("v", deck(*([wall] if gap else [])))])
    told = check_support(BuiltTrain(made, (lies,), Harness(), ()), SupportSettings()).findings
    (one,) = (each for each in told if "slide forwards" in each.message)
    assert one.figure == pytest.approx(figure)
    assert one.severity == "caution"
    assert ("nothing within" in one.message) is (gap is not None)


def test_what_lies_beside_nothing_is_told_as_a_metre_off() -> None:
    one = block("lamp", (5.0, 5.0, 5.0), mass_g=1.0)
    lies = Placement("lamp", one, "v", Place(pose_named("+x+y+z"), (900.0, 500.0, 500.0)), ITS_MOUNT)
    made = train([need("lamp", one)], [], [TrainVehicle("v", deck())])
    (found,) = in_the_air(BuiltTrain(made, (lies,), Harness(), ()), lies, SupportSettings())
    assert (found.figure, found.remedy) == (1000.0, "give lamp another place")
    assert found.message == "lamp touches nothing, and nothing lies beside it"


@pytest.mark.parametrize("turned", [False, True])
def test_rays_meet_other_vehicles_by_their_names(turned: bool) -> None:
    """From over the roof level rays meet a tower of the next vehicle; from within, the own wall."""
    tower = BodySolid(box(80, 0, 67.2, 96, 48, 120), "fixed")
    tall = vehicle("b", body=(*vehicle().body, tower))
    made = train([], [], [TrainVehicle("a", vehicle()), TrainVehicle("b", tall, turned)], track=Track(0.0))
    one = BuiltTrain(made, (), Harness(), ())
    for height, along, by, far in ((100.0, -1.0, "body of b", 88.0 + 8.0 + 80.0), (40.0, 1.0, "body", 80.0)):
        origins = np.array([[88.0, 24.0, height]] * 3)
        met = cast(one, "a", "", origins, np.array([[along, 0.0, 0.0]] * 3), None)
        assert met.by == ((by, 1.0),)
        assert met.nearest == pytest.approx(far)
        assert met.blocked == 1.0
    free = cast(
        one, "a", "", np.array([[88.0, 24.0, 100.0]] * 2), np.array([[1.0, 0, 0], [-1.0, 0, 0]]), None
    )
    assert (free.blocked, free.by) == (0.5, (("body of b", 0.5),))


def test_gaps_are_listed_in_words() -> None:
    assert [listed(words) for words in (["a"], ["a", "b"], ["a", "b", "c"])] == [
        "a",
        "a and b",
        "a, b and c",
    ]


# -- small parts in the air --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gap", "often", "severity", "words"),
    [
        (1.0, False, None, ""),
        (1.2, False, "note", "foam tape 1.5 mm thick"),
        (3.1, True, "note", "foam tape 3.5 mm thick"),
        (3.3, False, "note", "; or let its own leads hold it"),
        (3.3, True, "caution", "and stick it to these"),
    ],
)
def test_a_small_part_over_a_deck(gap: float, often: bool, severity: str | None, words: str) -> None:
    """Touching within a millimetre, foam up to 3.2 mm; a button that is pressed wants more than leads."""
    one = block("lamp", (5.0, 5.0, 5.0), mass_g=1.0)
    access = (Access("b", "switch", "+z", often), Access("lid", "cells", "+z", False))
    one = replace(one, access=access)
    lies = Placement("lamp", one, "v", Place(pose_named("+x+y+z"), (40.0, 20.0, FLOOR + gap)), ITS_MOUNT)
    made = train([need("lamp", one)], [], [TrainVehicle("v", deck())])
    found = in_the_air(BuiltTrain(made, (lies,), Harness(), ()), lies, SupportSettings())
    assert [each.severity for each in found] == ([severity] if severity else [])
    for each in found:
        assert each.figure == pytest.approx(gap, abs=0.051)
        assert words in each.remedy
        assert f"the body, {gap:.1f} mm off" in each.message
        assert ("or let its own leads" in each.remedy) is (gap > 3.2 and not often)
        assert bool(each.add) is (gap <= 3.2)
