"""Fuses and switches at their limits, rule by rule: what is told of each, and what would do instead."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks import in_line
from fitplan.checks.fuses import _fuses, _path, _proposal, fuse_limits
from fitplan.checks.in_line import in_line_limits, left_on
from fitplan.circuit.cells import source_of
from fitplan.circuit.currents import NetCurrent
from fitplan.circuit.fuses import FuseWish, PathRating
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Supply
from fitplan.model.electrical import (
    CellPack,
    Conductor,
    Connector,
    Controller,
    Fuse,
    Load,
)
from fitplan.model.found import Finding
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.wired import Harness
from tests.checks.test_supply_rule_by_rule import AA, LIFT, behind, limited, tree
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    cells,
    fuse,
    need,
    net,
    part,
    pin,
    switch,
    train,
    vehicle,
)
from tests.circuit.test_leads import wire

# -- fuses and switches ------------------------------------------------------------------------------------


def wished(hold: float = 100.0, most: float = 500.0, *fitting: Part) -> FuseWish:
    return FuseWish(hold, 150.0, PathRating("AWG 28", most), 6.0, fitting)


def test_what_is_said_of_a_fuse_that_is_wanted() -> None:
    """Its limits, the part that does and its volts at peak; where none can be, that."""
    one = replace(fuse(), id="f", electrical=(Fuse(200.0, 400.0, 0.35, True),))
    words = _proposal(tree(), wished(100.0, 500.0, one))
    assert words == (
        "put a fuse next to cells that holds 100 mA or more, trips at 500 mA or less: f, which costs 0.04 V "
        "at peak; add it to the needs and to the nets"
    )
    words = _proposal(tree(), wished(100.0, 500.0, one), "old")
    assert words.startswith("exchange old for a fuse that holds 100 mA or more, trips at 500 mA or less: f, ")
    assert words.endswith("at peak")
    assert _proposal(tree(), wished()).endswith("trips at 500 mA or less: the catalogue has none")
    later = replace(wished(), later=replace(one, electrical=(Fuse(200.0, 600.0, 0.35, True),)))
    assert _proposal(tree(), later).endswith("the catalogue has none; f does once AWG 28 bears 600 mA")
    hair = _proposal(tree(), wished(100.1))
    assert "holds 101 mA or more" in hair  # not 100, which one that is there may hold
    none = wished(500.0)
    assert _proposal(tree(), none).startswith(
        "no fuse fits: it would have to hold 500 mA and trip below the 500 mA"
    )
    assert _fuses(none) == ()
    assert [entry.name for entry in _fuses(wished(100.0, 500.0, one))] == ["fuse"]
    assert [entry.name for entry in _fuses(wished())] == ["fuse that holds 100 mA and trips at 500 mA"]


def line(*names: str, source: Part | None = None, minus: str = "") -> Train:
    """Cells, these one behind the other, then a board of 30 mA at peak."""
    kinds = {"s": switch(), "f": replace(fuse(50.0, 400.0), id="f"), "g": replace(fuse(80.0, 300.0), id="g")}
    brain = board(current=10.0, peak=30.0, regulator=replace(LINEAR_5V, quiescent_ma=0.0))
    own = source or cells(4)
    ends = ["cells.plus", *(f"{name}.{end}" for name in names for end in "ab"), "brain.raw"]
    nets = [net(f"n{i}", "supply", *pair) for i, pair in enumerate(zip(ends[::2], ends[1::2], strict=True))]
    used = [*names, *([minus] if minus else [])]
    if minus:
        nets += [
            net("m", "ground", "cells.minus", f"{minus}.a"),
            net("g0", "ground", f"{minus}.b", "brain.GND"),
        ]
    else:
        nets.append(net("m", "ground", "cells.minus", "brain.GND"))
    return train([need("cells", own), *(need(one, kinds[one]) for one in used), need("brain", brain)], nets)


def fused(made: Train, awg: int = 28) -> list[Finding]:
    (one,) = build_supply(made, {}).trees
    chosen = {entry.name: entry.candidates[0] for entry in made.needs}
    return list(
        fuse_limits(made, chosen, one, Harness((wire(1, "n0", "cells.plus", "brain.raw", 90.0, awg),)))
    )


@pytest.mark.parametrize(
    ("source", "severity"),
    [
        (cells(4), "note"),
        (cells(4, "nimh"), "caution"),
        (cells(2, "li"), "stop"),
        (cells(2, "li", protected=True), "caution"),
    ],
)
def test_a_short_behind_cells_without_a_fuse(source: Part, severity: str) -> None:
    """Fresh volts over the inner resistance, against the thinnest wire; alkaline cells end it themselves."""
    pack = source.electrical[0]
    assert isinstance(pack, CellPack)
    full = {"alkaline": 1.68, "nimh": 1.45, "li-ion": 4.2}[pack.chemistry] * pack.cells
    (one,) = fused(line(source=source))
    assert (one.severity, one.where) == (severity, "cells")
    assert one.figure == round(1000 * full / (0.15 * pack.cells))
    assert one.limit == 1400.0
    assert f"drives up to {full / 0.15 / pack.cells:.0f} A through AWG 28" in one.message
    assert one.add
    strong = replace(source, electrical=(replace(pack, resistance_ohm=full / pack.cells / 1.4),))
    assert fused(line(source=strong)) == []  # 1.4 A is just what it bears


def test_fuses_in_a_row() -> None:
    """The one that trips first is told; one that does not hold is a stop, with the other that does."""
    (one,) = fused(line("f"))
    assert (one.severity, one.where, one.figure, one.limit) == ("note", "f", 400.0, 1400.0)
    assert one.remedy == "nothing to do"
    (one,) = fused(line("f", "g"))
    assert (one.where, one.figure) == ("g", 300.0)
    (one,) = fused(line("f"), awg=32)
    assert (one.severity, one.limit) == ("note", 530.0)
    thin = replace(line("f").needs[1], candidates=(fuse(50.0, 531.0),))
    (one,) = fused(replace(line("f"), needs=(*line("f").needs[:1], thin, *line("f").needs[2:])), awg=32)
    assert (one.severity, one.limit) == ("caution", 530.0)
    assert one.remedy.startswith("exchange f for a fuse")
    assert one.add
    weak = replace(line("f").needs[1], candidates=(fuse(29.0, 400.0),))
    two = line("f", "g")
    first, second = fused(replace(two, needs=(two.needs[0], weak, *two.needs[2:])))
    assert (first.severity, first.where, first.figure, first.limit) == ("stop", "f", 29.0, 30.0)
    assert first.message.startswith("the fuse f behind cells holds 29 mA and trips in running")
    assert first.remedy == "leave it out: g protects the path"
    assert first.add == ()
    assert second.where == "g"
    alone = line("f")
    first, second = fused(replace(alone, needs=(alone.needs[0], weak, *alone.needs[2:])))
    assert first.message.startswith("the fuse behind cells holds 29 mA")
    assert first.remedy.startswith("exchange f for a fuse")
    assert first.add
    just = replace(line("f").needs[1], candidates=(fuse(30.0, 400.0),))
    assert len(fused(replace(alone, needs=(alone.needs[0], just, *alone.needs[2:])))) == 1
    (one,) = fused(line(minus="f"))
    assert (one.severity, one.where, one.unit) == ("caution", "f", "fuses")


def test_what_the_whole_current_passes() -> None:
    """Wires of the first nets behind switches; where none is laid the one asked for; a contact."""
    made = line("s")
    (one,) = build_supply(made, {}).trees

    def path(*wires: tuple[str, int], of: Train = made, factor: float = 1.0) -> list[tuple[str, float]]:
        harness = Harness(tuple(wire(i, name, "a.x", "b.y", 9.0, awg) for i, (name, awg) in enumerate(wires)))
        return [(entry.name, entry.most_ma) for entry in _path(of, harness, one, factor)]

    assert path(("n0", 24), ("n1", 28), ("m", 30)) == [("AWG 28", 1400.0)]
    assert path(("n0", 28), ("n1", 24)) == [("AWG 28", 1400.0)]
    assert path(("n0", 24), factor=1.5) == [("AWG 24", 5250.0)]
    assert path(("m", 30)) == [("AWG 24", 3500.0)]
    asked = replace(made.wiring, power_wire="thin", coupling_connector="joint")
    catalogue = {
        "thin": part("thin", Conductor(30, 1, 0.8, 7)),
        "joint": part("joint", Connector(4, 24, 30, 900.0, True)),
    }
    assert path(of=replace(made, wiring=asked, catalogue=catalogue)) == [("AWG 30", 860.0)]
    two = replace(made, vehicles=(TrainVehicle("a", vehicle()), TrainVehicle("b", vehicle("b"))))
    two = replace(two, wiring=asked, catalogue=catalogue)
    assert path(of=two) == [("AWG 30", 860.0), ("a contact of the coupling connector", 900.0)]
    regulated = tree(behind(LIFT))
    harness = Harness((wire(1, "five", "a.x", "b.y", 9.0, 30),))
    assert [entry.name for entry in _path(made, harness, regulated, 1.0)] == ["AWG 24"]


def in_lines(
    peak: float, catalogue: tuple[Part, ...] = (), names: tuple[str, ...] = ("s", "f")
) -> list[Finding]:
    made = replace(line(*names), catalogue={one.id: one for one in catalogue})
    chosen = {entry.name: entry.candidates[0] for entry in made.needs}
    currents = {one.name: NetCurrent(1.0, 9999.0) for one in made.nets} | {"n1": NetCurrent(1.0, peak)}
    return list(in_line_limits(made, chosen, currents, Supply(())))


def test_switches_and_fuses_of_branches() -> None:
    """The quieter of its two nets counts; the smallest of the catalogue that does is named."""
    assert in_lines(50.0) == []
    (one,) = in_lines(51.0)
    assert (one.where, one.figure, one.limit) == ("f", 51.0, 50.0)
    assert one.remedy == "use a fuse that holds at least 51 mA"
    holds = [replace(fuse(hold, 900.0), id=f"f{hold:.0f}") for hold in (90.0, 51.0, 50.0)]
    (one,) = in_lines(51.0, tuple(holds))
    assert one.remedy == "use a fuse that holds at least 51 mA: f51"
    first, second = in_lines(301.0, (replace(limited(400.0), id="b"), replace(limited(301.0), id="a")))
    assert (first.where, first.figure, first.limit) == ("s", 301.0, 300.0)
    assert first.remedy == "use a switch for at least 301 mA: a"
    assert second.where == "f"
    first, _ = in_lines(301.0, (limited(300.0),))
    assert first.remedy == "use a switch for at least 301 mA"
    # Behind cells a fuse is judged by all that it protects.
    made = line("f")
    chosen = {entry.name: entry.candidates[0] for entry in made.needs}
    currents = {one.name: NetCurrent(1.0, 60.0) for one in made.nets}
    assert list(in_line_limits(made, chosen, currents, build_supply(made, chosen))) == []
    assert len(list(in_line_limits(made, chosen, currents, Supply(())))) == 1


@pytest.mark.parametrize(
    ("hours", "words"), [(4.4, "4 h"), (167.9, "168 h"), (168.0, "7 days"), (240.0, "10 days")]
)
def test_how_long_cells_last_that_nothing_switches_off(hours: float, words: str) -> None:
    made = line()
    chosen = {entry.name: entry.candidates[0] for entry in made.needs}
    (one,) = build_supply(made, {}).trees
    (found,) = left_on(made, chosen, one, hours)
    assert (found.severity, found.figure) == ("caution", 1.0)
    assert f"empty after some {words}" in found.message
    for switched in (line("s"), line("f", "s"), line(minus="s")):
        (one,) = build_supply(switched, {}).trees
        assert list(left_on(switched, {e.name: e.candidates[0] for e in switched.needs}, one, hours)) == []
    fuse_only = line(minus="f")
    (one,) = build_supply(fuse_only, {}).trees
    assert list(left_on(fuse_only, {e.name: e.candidates[0] for e in fuse_only.needs}, one, hours))
    (one,) = build_supply(line(source=bank()), {}).trees
    assert list(left_on(made, chosen, one, hours)) == []


def test_what_is_fed_with_every_switch_off() -> None:
    """What hangs beside the switch is named, each once."""
    eye = part("eye", Load(3.0, 9.0, 5.0, 5.0), pins=[pin("V", "supply"), pin("G", "ground")])
    made = line("s")
    nets: list[Net] = [
        replace(made.nets[0], joins=(*made.nets[0].joins, *net("x", "supply", "eye.V").joins)),
        *made.nets[1:],
    ]
    made = replace(made, needs=(*made.needs, need("eye", eye)), nets=tuple(nets))
    (one,) = build_supply(made, {}).trees
    (found,) = left_on(made, {entry.name: entry.candidates[0] for entry in made.needs}, one, 4.0)
    assert found.message == "with every switch off cells still feeds eye"
    assert in_line._words(23.6) == "24 h"
    assert source_of(AA).capacity_mah == 2200.0
    assert isinstance(board().figure(Controller), Controller)
