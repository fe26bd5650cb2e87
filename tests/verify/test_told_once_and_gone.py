"""What no wire reaches is told once, and of what was built what has no place any more has to go."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.model.electrical import MotorDriver
from fitplan.model.solids import Box
from fitplan.model.wired import Unreached
from fitplan.units import PLATE
from fitplan.verify import choice, kept
from fitplan.verify.choice import check_choice
from fitplan.verify.kept import _has_to_go
from fitplan.verify.result import Tally
from fitplan.verify.straps import _lies_over
from fitplan.verify.switched_on import _gives
from fitplan.verify.work_ends import housing_passes


def test_what_no_wire_reaches_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of several is; twice the same is a problem, once for each; how many there are is trusted."""
    for name in ("_verdict", "_options", "_rebuilds", "_left_out"):
        monkeypatch.setattr(choice, name, lambda plan, sheet: None)
    one, two, three = (Unreached("n", owner, "p", "why") for owner in ("a", "b", "c"))
    for lost, twice in (
        ((), []),
        ((one,), []),
        ((one, two, three), []),
        ((one, two, one), [one]),
        ((two, two, two, one, one, three), [one, two]),
    ):
        train = SimpleNamespace(left_aside=(), needs=())
        harness = SimpleNamespace(unreached=lost)
        plan: Any = SimpleNamespace(
            built=SimpleNamespace(harness=harness, placements=(), train=train), proved=False
        )
        sheet = Tally()
        check_choice(plan, sheet)
        assert [problem.message for problem in sheet.report().problems] == [
            f"is told twice: {entry}" for entry in sorted(map(str, twice))
        ]


@pytest.mark.parametrize("ends", list(itertools.product(["S1", "S2", "pin"], repeat=2)))
@pytest.mark.parametrize("goes", [0, 1, 2, 3])
def test_a_splice_has_to_go_with_any_wire_that_ends_in_it(
    monkeypatch: pytest.MonkeyPatch, ends: tuple[str, str], goes: int
) -> None:
    """At either end, by its own name; a pin of that name, or wires elsewhere, are nothing to it."""

    def end(name: str) -> Any:
        return SimpleNamespace(
            kind="pin" if name == "pin" else "splice", owner="S1" if name == "pin" else name
        )

    wires = [
        SimpleNamespace(number=0, start=end(ends[0]), end=end(ends[1])),
        SimpleNamespace(number=1, start=end("S2"), end=end("pin")),
    ]
    monkeypatch.setattr(kept, "_wire_has_to_go", lambda wire, built, gone: bool(goes >> wire.number & 1))
    built: Any = SimpleNamespace(
        train=SimpleNamespace(vehicles=(), needs=(), as_built=SimpleNamespace(wires=wires))
    )
    for name in ("S1", "S2", "S3"):
        one: Any = SimpleNamespace(thing="splice", name=name)
        wanted = (bool(goes & 1) and name in ends) or (bool(goes & 2) and name == "S2")
        assert _has_to_go(one, built, set()) is wanted
    for number in (0, 1):
        wire: Any = SimpleNamespace(thing="wire", name=str(number))
        assert _has_to_go(wire, built, set()) is bool(goes >> number & 1)


@pytest.mark.parametrize(
    ("vehicle", "part", "need", "goes"),
    [("a", "eye", "p", False), ("gone", "eye", "p", True), ("a", "lamp", "p", True), ("a", "eye", "q", True)],
)
def test_a_part_has_to_go_without_its_vehicle_its_need_or_its_kind(
    vehicle: str, part: str, need: str, goes: bool
) -> None:
    candidates = [SimpleNamespace(id="eye"), SimpleNamespace(id="other")]
    built: Any = SimpleNamespace(
        train=SimpleNamespace(
            vehicles=[SimpleNamespace(name=name) for name in "ab"],
            needs=[SimpleNamespace(name=need, candidates=candidates)],
            as_built=SimpleNamespace(
                parts=[
                    SimpleNamespace(need="other", vehicle="nowhere", part="none"),
                    SimpleNamespace(need="p", vehicle=vehicle, part=part),
                ]
            ),
        )
    )
    one: Any = SimpleNamespace(thing="part", name="p")
    assert _has_to_go(one, built, set()) is goes
    assert _has_to_go(SimpleNamespace(thing="coupling", name="p"), built, set()) is False  # type: ignore[arg-type]


def test_a_strap_lies_over_a_part_where_it_lies_over_any_of_it() -> None:
    """Less than a plate above the top of all of it, and across one of its solids; touching is not across."""

    def solid(x: float, y: float) -> Any:
        return SimpleNamespace(bounds=Box((x, y, 0.0), (x + 4.0, y + 4.0, 5.0)))

    part: Any = SimpleNamespace(
        envelope=[solid(0.0, 0.0), solid(20.0, 0.0)], bounds=Box((0.0, 0.0, 0.0), (24.0, 4.0, 5.0))
    )
    for x, y, z, lies in (
        (0.0, 0.0, 5.0, True), (21.0, 2.0, 5.0, True), (8.0, 0.0, 5.0, False), (4.0, 0.0, 5.0, False),
        (0.0, 4.0, 5.0, False), (0.0, 0.0, 5.0 + PLATE - 0.1, True), (0.0, 0.0, 5.0 + PLATE + 0.1, False),
        (0.0, 0.0, 4.5, False), (21.0, 9.0, 5.0, False),
    ):  # fmt: skip
        assert _lies_over(part, Box((x, y, z), (x + 8.0, y + 8.0, z + 3.2))) is lies, (x, y, z)


def test_a_driver_gives_volts_at_its_outputs_and_what_is_built_in_at_any_pin() -> None:
    """Not at its other pins, nor does a part that drives no motor, nor an end without a pin of a part."""
    driver: Any = SimpleNamespace(figure=lambda kind: "driver" if kind is MotorDriver else None)
    other: Any = SimpleNamespace(figure=lambda kind: None)
    built: Any = SimpleNamespace(
        train=SimpleNamespace(built_in=lambda owner: "motor" if owner == "a/motor" else None)
    )
    plus, ground = SimpleNamespace(role="plus"), SimpleNamespace(role="ground")
    parts = {"driver": driver, "lamp": other}
    for owner, pin, gives in (
        ("driver", plus, True), ("driver", ground, False), ("driver", None, False), ("lamp", plus, False),
        ("a/motor", plus, True), ("a/motor", None, True), ("nothing", plus, False),
    ):  # fmt: skip
        assert _gives(built, parts, owner, pin) is gives, (owner, pin)  # type: ignore[arg-type]


@pytest.mark.parametrize(("vehicle", "port"), [("a", "rear"), ("b", "front")])
def test_a_housing_goes_end_first_through_the_port_of_either_vehicle(vehicle: str, port: str) -> None:
    """The one ahead has the port ahead; both sides of its end at once, whichever way round it is turned."""
    pair = SimpleNamespace(bounds=Box((0.0, 0.0, 0.0), (20.0, 5.0, 3.0)))
    crossing: Any = SimpleNamespace(connector="pair", ahead="a", port_ahead="rear", port_behind="front")
    for across, passes in (
        ((5.0, 3.0), True), ((3.0, 5.0), True), ((4.9, 9.0), True), ((2.9, 9.0), False), ((4.9, 4.9), False),
    ):  # fmt: skip
        hole = SimpleNamespace(out="-x", box=Box((0.0, 0.0, 0.0), (1.0, *across)))

        def asked(name: str, hole: Any = hole) -> Any:
            return hole if name == port else None

        train = SimpleNamespace(
            catalogue={"pair": pair},
            vehicle=lambda name, asked=asked: SimpleNamespace(vehicle=SimpleNamespace(port=asked)),
        )
        built: Any = SimpleNamespace(train=train)
        assert housing_passes(built, crossing, vehicle) is passes
        train.catalogue = {}
        assert housing_passes(built, crossing, vehicle) is True
