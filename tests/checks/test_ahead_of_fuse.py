"""Wire ahead of a fuse: how much of it, whether it crosses a coupling, and when that is worth a word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks import fuses
from fitplan.checks.safety import check_safety
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Fuse
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.wired import Crossing, Harness
from tests.circuit.sample_parts import cells, fuse, need, net, shuttle, switch
from tests.circuit.test_leads import wire

LITHIUM = cells(2, "li", 2600.0, 0.06, protected=True)


def switched_and_fused(source: Part) -> Train:
    """Cells, a switch, the fuse, then the board."""
    made = shuttle(supply=source)
    nets = [entry for entry in made.nets if entry.name != "battery"]
    nets += [
        net("battery", "supply", "cells.plus", "switch.a"),
        net("on", "supply", "switch.b", "fuse.a"),
        net("fused", "supply", "fuse.b", "brain.raw"),
    ]
    return replace(
        made, needs=(*made.needs, need("switch", switch()), need("fuse", fuse())), nets=tuple(nets)
    )


def told(source: Part, first: float, second: float, *crossed: int, awg: int = 24) -> list[Finding]:
    wires = (
        wire(1, "battery", "cells.plus", "switch.a", first, awg),
        wire(2, "on", "switch.b", "fuse.a", second, awg),
        wire(3, "fused", "fuse.b", "brain.raw", 900.0, awg),
    )
    crossing = Crossing("J1", "shunter", "van", "p", "q", crossed, 3.0, 20.0, 40.0, "curve", 2.0, False)
    harness = Harness(wires, crossings=(crossing,) if crossed else ())
    found = check_safety(BuiltTrain(switched_and_fused(source), (), harness, ())).findings
    return [one for one in found if "a short there trips nothing" in one.message]


@pytest.mark.parametrize(
    ("first", "second", "crossed", "severity"),
    [
        (80.0, 98.0, (), "note"),
        (80.0, 98.5, (), "caution"),
        (10.0, 20.0, (1,), "caution"),
        (10.0, 20.0, (2,), "caution"),
        (10.0, 20.0, (3,), "note"),
    ],
)
def test_all_wire_ahead_of_the_fuse_counts(
    first: float, second: float, crossed: tuple[int, ...], severity: str
) -> None:
    """Both wires ahead of it count, with a switch between; what lies behind it may be long and cross."""
    (one,) = told(LITHIUM, first, second, *crossed)
    assert (one.severity, one.figure, one.limit) == (severity, first + second, 178.0)
    assert one.where == "fuse"
    assert ("over J1" in one.message) == (severity == "caution" and bool(crossed))
    wanted = {"note": "nothing to do", "caution": '"in: [shunter]"' if crossed else "nearer to cells"}
    assert wanted[severity] in one.remedy


def test_what_drives_little_is_not_warned_of() -> None:
    """Alkaline cells get a note; cells that cannot overload the wire, or no fuse at all, nothing of this."""
    (one,) = told(cells(4, "alkaline", 2000.0, 0.3), 10.0, 500.0)
    assert one.severity == "note"
    assert told(cells(4, "alkaline", 2000.0, 10.0), 10.0, 500.0) == []
    plain = BuiltTrain(
        shuttle(supply=LITHIUM), (), Harness((wire(1, "battery", "cells.plus", "brain.raw"),)), ()
    )
    assert not [one for one in check_safety(plain).findings if "trips nothing" in one.message]


def test_what_a_fuse_must_hold_is_told_by_its_kind(monkeypatch: pytest.MonkeyPatch) -> None:
    """One that mends itself holds the peak in running; another what flows on switching on as well."""
    known = fuses.wish_for
    monkeypatch.setattr(fuses, "wish_for", lambda *args: replace(known(*args), start_ma=201.0))
    made = switched_and_fused(LITHIUM)
    for mends, asked in ((True, 123.0), (False, 201.0)):
        small = replace(fuse(), electrical=(Fuse(1.0, 200.0, 0.1, mends, 30.0),))
        needs = tuple(replace(one, candidates=(small,)) if one.name == "fuse" else one for one in made.needs)
        found = check_safety(BuiltTrain(replace(made, needs=needs), (), Harness(), ())).findings
        (stop,) = [one for one in found if one.where == "fuse" and one.severity == "stop"]
        assert (stop.figure, stop.limit) == (1.0, asked)
        assert stop.message.endswith(f"the train's own peak is {asked:.0f} mA")
