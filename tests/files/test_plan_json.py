"""Plans as JSON: nothing is lost, equal plans are equal bytes, damage is told and never raised through."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import math
import typing
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.errors import PlanFormatError
from fitplan.files.codec import Codec, tag_of
from fitplan.files.plan_json import plan_from_json, plan_schema, plan_to_json, read_plan
from fitplan.files.read import read_train
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Electrical, Regulator
from fitplan.model.found import Curve, Finding, Outcome, Plot, Table
from fitplan.model.part import Part, Pin
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Piece, Placement, Rebuild, Shelf
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow, Option
from fitplan.model.solids import Box, Cylinder, Place, Pose, Solid, Wedge, poses
from fitplan.model.train import Train
from fitplan.model.vehicle import Vehicle
from fitplan.model.ways_in import AssemblyStep, Exchanged, SubassemblyPart, WayOut
from fitplan.model.wired import Harness, Leg, Splice, Stretch, Unreached, Wire, WireEnd

STARTER = Path(__file__).parents[2] / "fitplan" / "files" / "starter" / "train.yaml"
WORDED = {Pose: {pose.name: pose for pose in poses()}}


@pytest.fixture(scope="module")
def train() -> Train:
    return read_train(STARTER)


@pytest.fixture(scope="module")
def plan(train: Train) -> Plan:
    """A plan with something in every list."""
    need = train.needs[0]
    placement = Placement(
        need.name, need.candidates[0], "railcar", Place(poses()[7], (10.0, 20.1, 1 / 3)), "body",
        Shelf("block", (Piece("block", Box((0.0, 0.0, 0.0), (1.0, 2.0, 3.2))),), 0),
    )  # fmt: skip
    end = WireEnd("pin", need.name, "GND", "railcar", (1.0, 2.0, 3.0), 4.0)
    wire = Wire(
        1, "ground", "ground", "BK", 24, 1.2, end, end, (Leg("railcar", ((0.1, 0.2, 0.3),)),),
        12.345678,        (("ends", 8.0),), 21.0, 33.3, 0.001,
    )  # fmt: skip
    harness = Harness(
        wires=(wire,),
        splices=(Splice("S1", "ground", "railcar", (1.0, 1.0, 1.0), (1,)),),
        stretches=(Stretch("B1", "railcar", ((0.0, 0.0, 0.0),), (1,), 1.2, 10.0),),
        unreached=(Unreached("ground", "eye", "GND", "no way"),),
    )
    table = Table("Sizes", ("what", "mm"), (("a", 1.5), ("b", 2)), "a note")
    finding = Finding("power", "stop", "brain", "too much", 1.0, math.inf, "mA", "less", "no source")
    plot = Plot("Volts", "s", "V", (Curve("c", (0.0, 1.0), (2.0, 3.0)),), (("least", 1.0),))
    return Plan(
        built=BuiltTrain(
            train,
            (placement,),
            harness,
            (PinUse("brain", "D0", "tail", "tail lamp.IN", "output"),),
            (Rebuild("railcar", ("driver's seat",), (), 1.0, 1.0, "carried"),),
            (
                Exchanged(
                    "brain",
                    "railcar",
                    "socket",
                    False,
                    True,
                    False,
                    ("driver's seat",),
                    (WayOut(("eye",), "roof", (("+z", 30.0),)),),
                    WayOut((), "", (("+x", 9.0),)),
                ),
            ),
        ),
        verdict="not decided",
        fit=(FitRow("brain", need.candidates[1].id, "railcar", "cannot fit", "r", "p", 2.5, "x", "+x+y+z"),),
        assembly=(
            AssemblyStep(
                1,
                "brain",
                "railcar",
                "roof",
                (("-z", 30.0),),
                (SubassemblyPart("eye", (("-x", 4.0),)),),
            ),
        ),
        assembly_blocked=(),
        options=(
            Option((("brain", need.candidates[0].id, "railcar"),), 1, 0, 0, 0.0, 100.5, 1.0, 3.25, True),
        ),
        outcomes=(Outcome("power", (finding,), (table,), (plot,)),),
        unplaced=(("eye", "too large"),),
        seed=3,
    )


def without_rest(train: Train, names: set[str]) -> dict[str, Part]:
    return {name: part for name, part in train.catalogue.items() if name in names}


def test_plan_comes_back_equal(plan: Plan) -> None:
    """A plan that is written and read is equal, and so are the parts of the catalogue that it refers to."""
    back = plan_from_json(plan_to_json(plan))
    assert back == plan
    catalogue = back.built.train.catalogue
    assert catalogue == without_rest(plan.built.train, set(catalogue))
    assert {"wire-awg24", "wire-awg28", *(part.id for part in plan.built.train.needs[0].candidates)} <= set(
        catalogue
    )


def test_same_plan_same_bytes(plan: Plan) -> None:
    """Writing a plan again, and writing what was read, gives the same bytes."""
    data = plan_to_json(plan)
    assert plan_to_json(plan) == data
    assert plan_to_json(plan_from_json(data)) == data


def test_schema_accepts_what_is_written(plan: Plan) -> None:
    """The schema is valid, accepts a written plan, and refuses one with a foreign or a missing key."""
    schema = plan_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    document = json.loads(plan_to_json(plan))
    assert not list(validator.iter_errors(document))
    for change in ("foreign", "missing"):
        damaged = json.loads(plan_to_json(plan))
        if change == "foreign":
            damaged["plan"]["built"]["foreign"] = 1
        else:
            del damaged["plan"]["built"]["harness"]["wires"][0]["awg"]
        assert list(validator.iter_errors(damaged))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda d: d.update(format="other"), 'not a plan: expected an object with "format": "fitplan-plan"'),
        (
            lambda d: d.update(version=1),
            "a plan of version 1; expected 13: make it again with `fitplan plan`",
        ),
        (lambda d: d.pop("parts"), "the plan is damaged at parts: found no table; expected an object"),
        (
            lambda d: d["plan"].pop("verdict"),
            "the plan is damaged at plan: found no key 'verdict'; expected the key 'verdict' of a plan",
        ),
        (
            lambda d: d["plan"]["built"]["harness"]["wires"][0].update(cut_mm="21"),
            "the plan is damaged at plan.built.harness.wires[0].cut_mm: found a text; expected a number",
        ),
        (
            lambda d: d["plan"]["built"]["placements"][0].update(part="mislaid"),
            "the plan is damaged at plan.built.placements[0].part: found 'mislaid'; "
            "expected the name of a part of the plan",
        ),
        (
            lambda d: d["plan"]["built"]["placements"][0]["place"].update(pose="+x+x+x"),
            "the plan is damaged at plan.built.placements[0].place.pose: found '+x+x+x'; "
            "expected the name of a pose",
        ),
        (
            lambda d: d["plan"]["built"]["placements"][0].update(vehicle="tender"),
            "the plan is damaged at plan.built.placements: found the vehicle 'tender'; "
            "expected a vehicle of the train",
        ),
        (
            lambda d: d["plan"].update(extra=1),
            "the plan is damaged at plan.extra: found an unknown key; expected keys of a plan",
        ),
    ],
)  # fmt: skip
def test_damage_is_told_with_its_place(plan: Plan, change: Any, message: str) -> None:
    """Each kind of damage gives one sentence with the place, what was found and what was expected."""
    document = json.loads(plan_to_json(plan))
    change(document)
    with pytest.raises(PlanFormatError) as caught:
        plan_from_json(json.dumps(document))
    assert str(caught.value) == message


@pytest.mark.parametrize(
    "data",
    [b"", b"\xff\xfe", b"[]", b"{", b"[" * 100_000, b'{"format": NaN}', b"9" * 10_000, b'"text"', b"null",
     b'{"format": "fitplan-plan", "version": true}',
     b'{"format": "fitplan-plan", "version": 10, "parts": {}}'],
)  # fmt: skip
def test_what_is_no_plan_is_refused(data: bytes) -> None:
    """Bytes that are no plan raise the one error of this format and nothing else."""
    with pytest.raises(PlanFormatError):
        plan_from_json(data)


def test_file_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file is told as such, with the path, also where a folder is named; so is what is no file."""
    with pytest.raises(PlanFormatError, match=r"gone.json: cannot be read: No such file"):
        read_plan(tmp_path / "gone.json")
    with pytest.raises(PlanFormatError, match=r"plan.json: cannot be read: No such file"):
        read_plan(tmp_path)
    (tmp_path / "plan.json").mkdir()
    with pytest.raises(PlanFormatError, match=r"plan.json: found what is no file"):
        read_plan(tmp_path)


def _leaves(value: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict):
        return [way, *(leaf for key in value for leaf in _leaves(value[key], (*way, key)))]
    if isinstance(value, list):
        return [way, *(leaf for i, item in enumerate(value) for leaf in _leaves(item, (*way, i)))]
    return [way]


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_random_damage_never_crashes(plan: Plan, data: st.DataObject) -> None:
    """Whatever value is put anywhere, the plan is read or refused with the one error of this format."""
    document = json.loads(plan_to_json(plan))
    ways = _leaves(document)[1:]
    way = ways[data.draw(st.integers(0, len(ways) - 1))]
    junk = data.draw(
        st.none() | st.booleans() | st.integers(-(10**400), 10**400)
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(max_size=5) | st.just([]) | st.just({}) | st.just([[]]) | st.just("inf")
    )  # fmt: skip
    place: Any = document
    for step in way[:-1]:
        place = place[step]
    place[way[-1]] = junk
    with contextlib.suppress(PlanFormatError):
        plan_from_json(json.dumps(document))


numbers = st.floats(allow_nan=False)
vectors = st.tuples(numbers, numbers, numbers)
boxes = st.builds(Box, vectors, vectors)
sides = st.sampled_from(["+x", "-x", "+y", "-y", "+z", "-z"])
solids = st.one_of(
    boxes,
    st.builds(Cylinder, st.sampled_from("xyz"), vectors, numbers, numbers),
    st.builds(Wedge, boxes, sides, sides),
)


@settings(max_examples=60, deadline=None)
@given(solids=st.lists(solids, max_size=4).map(tuple), pose=st.sampled_from(poses()), offset=vectors)
def test_solids_and_places_come_back_equal(
    solids: tuple[Solid, ...], pose: Pose, offset: tuple[float, float, float]
) -> None:
    """Any solids and places come back equal, infinite numbers included, also through JSON text."""
    codec = Codec({}, WORDED)
    hint = tuple[Solid, ...]
    text = json.dumps(codec.encode(hint, solids), allow_nan=False)
    assert codec.decode(hint, json.loads(text)) == solids
    place = Place(pose, offset)
    assert codec.decode(Place, json.loads(json.dumps(codec.encode(Place, place)))) == place


def test_bundled_catalogue_comes_back(train: Train) -> None:
    """Every part of the bundled catalogue comes back equal through JSON text."""
    codec = Codec({}, WORDED)
    for part in train.catalogue.values():
        assert codec.decode_fields(Part, json.loads(json.dumps(codec.encode_fields(part)))) == part


@pytest.mark.parametrize("cls", typing.get_args(Electrical))
@settings(max_examples=10, deadline=None)
@given(data=st.data())
def test_every_electrical_class_comes_back(cls: type, data: st.DataObject) -> None:
    """Each kind of figures keeps its class and its values within the union of all kinds."""
    codec = Codec({}, WORDED)
    figures = data.draw(st.from_type(cls))
    encoded = codec.encode(Electrical, figures)
    back = codec.decode(Electrical, json.loads(json.dumps(encoded, allow_nan=False)))
    assert type(back) is cls
    assert codec.encode(Electrical, back) == encoded


def test_vehicle_comes_back(train: Train) -> None:
    """A vehicle comes back equal."""
    codec = Codec({}, WORDED)
    vehicle = train.vehicles[0].vehicle
    assert codec.decode(Vehicle, codec.encode(Vehicle, vehicle)) == vehicle


def test_two_parts_of_one_id_stay_apart(train: Train) -> None:
    """A placed part that differs from the candidate of the same id is not mixed up with it."""
    part = train.needs[0].candidates[0]
    heavier = dataclasses.replace(part, mass_g=part.mass_g + 1)
    codec = Codec({Part: "id"}, WORDED)
    names = [codec.encode(Part, one) for one in (part, heavier, part)]
    assert names[0] == names[2] != names[1]
    assert codec.decode(Part, names[1]) == heavier


def test_array_numbers_are_written_as_plain_ones() -> None:
    """Numbers of the array library are written like Python's own."""
    codec = Codec({}, WORDED)
    pin = Pin("a", "signal", (np.float64(1.5), np.float32(2.0), np.int64(3)), "+x", optional=np.bool_(True))  # type: ignore[arg-type]
    encoded = codec.encode(Pin, pin)
    assert json.loads(json.dumps(encoded)) == encoded
    assert encoded["at"] == [1.5, 2.0, 3.0]
    assert encoded["optional"] is True


def test_tags_are_words() -> None:
    """Class names become plain words."""
    assert [tag_of(cls) for cls in (Box, Regulator, FitRow)] == ["box", "regulator", "fit row"]
