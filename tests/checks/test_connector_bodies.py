"""Connectors in gaps and ports: sizes tried by hand, by placing boxes, and the remedies that are named."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.connector_bodies import connector_bodies, gap_of, least_gap, lies_in, passes
from fitplan.model.electrical import Connector
from fitplan.model.part import Clearance, Part
from fitplan.model.plan import BuiltTrain, Crossing, Finding, Harness
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Coupling, Port
from tests.circuit.sample_parts import box, part, train, vehicle


def pair(name: str = "six", length: float = 24.0, width: float = 17.4, height: float = 6.6) -> Part:
    made = part(name, Connector(6, 22, 30, 2000.0, True), size=(length, width, height), family="connector")
    ends = (box(-4, 1, 1, 0, width - 1, height - 1), box(length, 1, 1, length + 4, width - 1, height - 1))
    return replace(made, clearances=tuple(Clearance(f"leads {i}", "lead", one) for i, one in enumerate(ends)))


def coupled(gap: float, one: Part, *others: Part, free: float = 60.0, hole: float = 6.0) -> BuiltTrain:
    hooks = (Coupling("front", 168.0, 10.0, gap / 2), Coupling("rear", 8.0, 10.0, gap / 2))
    ports = (
        Port("rear hole", box(0, 24 - hole / 2, 30, 8, 24 + hole / 2, 30 + hole), "-x"),
        Port("front hole", box(168, 24 - hole / 2, 30, 176, 24 + hole / 2, 30 + hole), "+x"),
    )
    shape = vehicle(couplings=hooks, ports=ports)
    made = train(
        [], [], [TrainVehicle("a", shape), TrainVehicle("b", shape)],
        catalogue={entry.id: entry for entry in (one, *others)},
    )  # fmt: skip
    crossing = Crossing(
        "J1", "a", "b", "rear hole", "front hole", (), 3.0, gap, free, "straight", 20.0, False, one.id
    )
    return BuiltTrain(made, (), Harness(crossings=(crossing,)), ())


def found(built: BuiltTrain, word: str) -> list[Finding]:
    return [one for one in connector_bodies(built) if word in one.message]


@pytest.mark.parametrize(
    ("gap", "severity"), [(4.0, "caution"), (8.5, "caution"), (8.7, "note"), (18.0, "note")]
)
def test_a_pair_in_a_gap(gap: float, severity: str) -> None:
    """A pair 6.6 mm thick lies across a gap of 8.6 mm and more, with a millimetre to both bodies."""
    (one,) = found(coupled(gap, pair()), "gap")
    assert (one.severity, one.figure) == (severity, 8.6)


def test_a_pair_wider_than_the_train_needs_its_thickness_upright_or_a_longer_gap() -> None:
    """Between bodies 48 wide and 51.2 high a pair of 60 mm lies in no way but along: 70 mm of gap."""
    long = pair("long", length=60.0)
    assert lies_in(long, (30.0, 48.0, 51.2)) is None
    assert least_gap(long, (30.0, 48.0, 51.2)) == pytest.approx(70.0)
    assert lies_in(long, (70.5, 48.0, 51.2)) is not None
    (one,) = found(coupled(30.0, long), "gap")
    assert one.severity == "caution"
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
    assert (lies_in(one, gap) is not None) == fits
    least = least_gap(one, gap)
    if math.isfinite(least):
        assert lies_in(one, (least + 1e-6, wide, high)) is not None
        assert lies_in(one, (least - 1e-3, wide, high)) is None


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
    assert gap_of(one, other) == (8.0, 48.0, pytest.approx(51.2))
