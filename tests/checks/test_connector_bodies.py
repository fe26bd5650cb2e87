"""Connectors in gaps and ports: sizes tried by hand, by placing boxes, and the remedies that are named."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.connector_bodies import CouplingGap, connector_bodies, gap_of, least_gap, lies_in
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Connector
from fitplan.model.found import Finding
from fitplan.model.hands import least_coupling_wire, passes
from fitplan.model.part import Clearance, Part
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Coupling, Parted, Port
from fitplan.model.wired import Crossing, Harness
from fitplan.planning.pairs_inside import with_pairs_inside
from fitplan.verify.couplings import how_often, pair_asks
from fitplan.verify.pairs_inside import check_pairs_inside, drawn_in
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from tests.circuit.sample_parts import box, part, train, vehicle


def pair(name: str = "six", length: float = 24.0, width: float = 17.4, height: float = 6.6) -> Part:
    made = part(name, Connector(6, 22, 30, 2000.0, True), size=(length, width, height), family="connector")
    ends = (box(-4, 1, 1, 0, width - 1, height - 1), box(length, 1, 1, length + 4, width - 1, height - 1))
    return replace(made, clearances=tuple(Clearance(f"leads {i}", "lead", one) for i, one in enumerate(ends)))


def coupled(
    gap: float, one: Part, *others: Part, free: float = 60.0, hole: float = 6.0, radius: float = 0.0
) -> BuiltTrain:
    hooks = (Coupling("front", 168.0, 10.0, gap / 2), Coupling("rear", 8.0, 10.0, gap / 2))
    ports = (
        Port("rear hole", box(0, 24 - hole / 2, 30, 8, 24 + hole / 2, 30 + hole), "-x"),
        Port("front hole", box(168, 24 - hole / 2, 30, 176, 24 + hole / 2, 30 + hole), "+x"),
    )
    shape = vehicle(couplings=hooks, ports=ports)
    shape = replace(shape, body=(*shape.body, BodySolid(box(8, 8, 19.2, 168, 40, 67.2), "free")))
    made = train(
        [], [], [TrainVehicle("a", shape), TrainVehicle("b", shape)],
        catalogue={entry.id: entry for entry in (one, *others)},
    )  # fmt: skip
    made = replace(made, track=replace(made.track, radius=radius))
    crossing = Crossing(
        "J1", "a", "b", "rear hole", "front hole", (), 3.0, gap, free, "straight", 20.0, False, one.id
    )
    return BuiltTrain(made, (), Harness(crossings=(crossing,)), ())


def found(built: BuiltTrain, word: str) -> list[Finding]:
    return [one for one in connector_bodies(built) if word in one.message]


@pytest.mark.parametrize(("gap", "severity"), [(4.0, "stop"), (8.5, "stop"), (8.7, "note"), (18.0, "note")])
def test_a_pair_in_a_gap(gap: float, severity: str) -> None:
    """A pair 6.6 mm thick lies across a gap of 8.6 mm and more, with a millimetre to both bodies."""
    (one,) = found(coupled(gap, pair()), "gap")
    assert (one.severity, one.figure) == (severity, 8.6)


def test_a_pair_wider_than_the_train_needs_its_thickness_upright_or_a_longer_gap() -> None:
    """Between bodies 48 wide and 51.2 high a pair of 60 mm lies in no way but along: 70 mm of gap."""
    long = pair("long", length=60.0)
    assert lies_in(long, CouplingGap(30.0, 48.0, 51.2)) is None
    assert least_gap(long, CouplingGap(30.0, 48.0, 51.2)) == pytest.approx(70.0)
    assert lies_in(long, CouplingGap(70.5, 48.0, 51.2)) is not None
    (one,) = found(coupled(30.0, long), "gap")
    assert one.severity == "stop"
    assert "lengthen the coupling by 40 mm" in one.remedy


def test_a_thinner_pair_of_the_catalogue_is_named() -> None:
    """Where a catalogue pair would lie in the gap it is named, and with it nothing is wrong."""
    thin = pair("thin", height=3.0)
    (one,) = found(coupled(6.0, pair(), thin), "gap")
    assert "take thin" in one.remedy
    assert found(coupled(6.0, thin), "gap")[0].severity == "note"
    (none,) = found(coupled(6.0, pair()), "gap")
    assert "at most 4.0 mm thick" in none.remedy


@given(
    st.tuples(st.floats(5, 60), st.floats(3, 30), st.floats(3, 30)),
    st.tuples(st.floats(4, 80), st.floats(10, 64), st.floats(10, 60)),
)
@settings(max_examples=100, deadline=None)
def test_against_every_turning_of_a_box(
    size: tuple[float, float, float], gap: tuple[float, float, float]
) -> None:
    """What lies in a gap is a box that is in it in one of its turnings; every named length would do."""
    one = pair("any", *size)
    long, wide, high = gap
    whole = (size[0] + 8.0, size[1], size[2])
    fits = any(x + 2.0 <= long and y <= wide and z <= high for x, y, z in permutations(whole))
    assert (lies_in(one, CouplingGap(*gap)) is not None) == fits
    least = least_gap(one, CouplingGap(*gap))
    if math.isfinite(least):
        assert lies_in(one, CouplingGap(least + 1e-6, wide, high)) is not None
        assert lies_in(one, CouplingGap(least - 1e-3, wide, high)) is None


def test_a_joint_shorter_than_the_pair() -> None:
    """A free length of 20 mm holds no rigid pair of 24 mm; with what is asked for it comes apart."""
    (one,) = found(coupled(18.0, pair(), free=20.0), "too short to hold")
    longer = 20.0 + float(one.remedy.split("together ")[1].split(" mm")[0])
    assert found(coupled(18.0, pair(), free=longer), "too short to hold") == []


@pytest.mark.parametrize(("hole", "count"), [(6.0, 2), (17.0, 2), (17.5, 0)])
def test_a_housing_and_a_hole(hole: float, count: int) -> None:
    """A housing of 17.4 mm does not pass a hole of 6 mm: the contacts are crimped after threading."""
    notes = found(coupled(18.0, pair(), hole=hole), "does not pass")
    assert len(notes) == count
    assert all("crimp" in one.remedy for one in notes)
    assert passes(pair(), (7.0, 18.0))
    assert passes(pair(), (18.0, 7.0))
    assert not passes(pair(), (17.0, 17.0))


def test_the_gap_is_both_halves_of_the_coupling() -> None:
    """Bodies stand as far apart as both couplings are long, however the vehicles are turned."""
    one, other = (TrainVehicle("a", vehicle()), TrainVehicle("b", vehicle(), True))
    gap = gap_of(train([], [], [one, other]), one, other)
    assert (gap.long, gap.wide, gap.high) == (8.0, 48.0, pytest.approx(51.2))


@pytest.mark.parametrize("radius", [240.0, 320.0, 700.0])
def test_the_curve_pinches_what_lies_across(radius: float) -> None:
    """Two like bodies posed as chords of a circle: their end faces on the inside, half a pair aside."""
    built = coupled(18.0, pair(), radius=radius)
    ahead, behind = built.train.vehicle("a"), built.train.vehicle("b")
    gap = gap_of(built.train, ahead, behind)
    low, high = min(ahead.vehicle.wheels.at), max(ahead.vehicle.wheels.at)
    assert low + high == pytest.approx(ahead.vehicle.length)
    # The body's middle line lies so far from the centre; its coupling's middle so far along it.
    away, along = math.sqrt(radius**2 - ((high - low) / 2) ** 2), ahead.vehicle.length / 2 + 9.0
    turn = math.atan2(along, away)
    for aside in (0.0, 8.0, 16.0):
        # A point of the end face, in a frame turned so that the coupling lies on the x axis.
        x, y = away - aside, along - 9.0
        across = y * math.cos(turn) - x * math.sin(turn)
        assert gap.long - 2 * aside * gap.pinch == pytest.approx(-2 * across / math.cos(turn), abs=0.02)


def test_a_pair_that_the_gap_does_not_take_is_drawn_into_a_vehicle() -> None:
    """Behind a hole of 18 mm in an empty body; the wires are longer by the way in, the checker agrees."""
    built = coupled(4.0, pair(), hole=18.0, radius=320.0)
    made = with_pairs_inside(built)
    (crossing,) = made.harness.crossings
    assert crossing.pair is not None
    assert crossing.pair.vehicle == "b"
    # A wall of 8 mm, 4 mm of leads, half of 24 mm.
    assert crossing.pair.more_mm == pytest.approx(24.0)
    assert crossing.free_mm == pytest.approx(built.harness.crossings[0].free_mm + 48.0)
    (note,) = found(made, "drawn into b")
    assert note.severity == "note"
    sheet = Tally()
    assert drawn_in(made, crossing, sheet) == pytest.approx(24.0)
    check_pairs_inside(made, sites_of(made), sheet)
    assert sheet.report().problems == ()
    for wrong in (
        replace(crossing.pair, more_mm=10.0),
        replace(crossing.pair, vehicle="c"),
        replace(crossing.pair, box=box(0, 0, 30, 24, 17.4, 36.6)),
        replace(crossing.pair, box=box(140, 15.3, 30, 150, 32.7, 36.6)),
    ):
        sheet = Tally()
        told = replace(crossing, pair=wrong)
        drawn_in(made, told, sheet)
        check_pairs_inside(replace(made, harness=Harness(crossings=(told,))), sites_of(made), sheet)
        assert sheet.report().problems != (), wrong


def test_a_pair_stays_out_of_a_hole_that_it_does_not_pass() -> None:
    built = coupled(4.0, pair(), hole=12.0, radius=320.0)
    assert with_pairs_inside(built) == built


@pytest.mark.parametrize(
    ("words", "often", "connector", "least"),
    [
        ((None, None), "storage", "six", 34.0),
        (("never", None), "never", "", 0.0),
        (("never", "daily"), "daily", "six", 54.0),
        ((None, "daily"), "daily", "six", 54.0),
        (("storage", "never"), "storage", "six", 34.0),
    ],
)
def test_how_often_a_coupling_is_parted(
    words: tuple[Parted | None, Parted | None], often: str, connector: str, least: float
) -> None:
    """The oftener of what both vehicles say; never: wires run through; daily: fingers find the wires."""
    built = coupled(18.0, pair())
    made = replace(built.train, wiring=replace(built.train.wiring, coupling_connector="six"))
    entries = []
    for entry, end, word in zip(made.vehicles, ("rear", "front"), words, strict=True):
        hooks = tuple(
            replace(hook, parted=word) if hook.end == end else hook for hook in entry.vehicle.couplings
        )
        entries.append(replace(entry, vehicle=replace(entry.vehicle, couplings=hooks)))
    made = replace(made, vehicles=tuple(entries))
    assert made.parted("a", "b") == often
    assert made.pair_at("a", "b") == connector
    crossing = replace(built.harness.crossings[0], connector=connector)
    told = replace(built, train=made, harness=Harness(crossings=(crossing,)))
    assert how_often(told, crossing) == often
    assert pair_asks(told, crossing) == pytest.approx(least)
    if connector:
        assert least_coupling_wire(pair(), made.parted("a", "b")) == pytest.approx(least)
