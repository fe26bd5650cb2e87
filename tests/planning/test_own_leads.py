"""Leads that parts come with, and leads that run over a coupling: made, cut, joined and stowed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from importlib import resources
from itertools import permutations
from pathlib import Path

import pytest

from fitplan.checks.leads import check_leads
from fitplan.files.catalogue import read_catalogue
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.model.as_built import AsBuilt, BuiltEnd, BuiltLeg, BuiltWire
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor, Lead, OwnLeads, SeriesResistor
from fitplan.model.needed import Need
from fitplan.model.nets import Net, PinRef
from fitplan.model.own_leads import made_of
from fitplan.model.part import Part, PinJoint
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.wired import BoughtLead, Harness, Leg, Wire, WireEnd
from fitplan.packing.vehicle.packing import Packing
from fitplan.planning.ready_made import _fits, _with_own
from fitplan.planning.run import plan_train
from fitplan.planning.run_state import PlanningRun, PlanOptions
from fitplan.planning.short_leads import packed_for_leads, too_short
from fitplan.recheck import recheck
from fitplan.routing.harness.gauges import as_thick
from fitplan.surface import read_train
from fitplan.verify import verify
from fitplan.verify.buying import from_the_spool
from fitplan.verify.leads import _fits_at
from fitplan.workbench.as_built import as_built_of
from tests.bench.bench_loads import variant
from tests.packing.small_trains import block, hollow, train_of


def _built(parts: dict[str, Part]) -> BuiltTrain:
    needs = tuple(Need(name, (part,)) for name, part in parts.items())
    places = tuple(
        Placement(name, part, "v", Place(pose_named("+x+y+z"), (10.0, 10.0, 20.0)), "the body")
        for name, part in parts.items()
    )
    return BuiltTrain(train_of((hollow("v", 30, 8, 12),), needs), places, Harness(), ())


def _wire(built: BuiltTrain, cut: float) -> Wire:
    one, other = (
        WireEnd("pin", need.name, need.candidates[0].pins[0].name, "v", (10.0, 10.0, 20.0), 0.0)
        for need in built.train.needs
    )
    leg = Leg("v", (one.at, other.at))
    return Wire(1, "n", "supply", "RD", 24, 1.6, one, other, (leg,), cut, (), cut, 10.0, 0.0)


@pytest.mark.parametrize(
    ("ids", "cut", "own", "spool", "joints"),
    [
        (("cells-aa-3-leads", "switch-slide"), 90.0, (90.0,), 0.0, 0),
        (("cells-aa-3-leads", "switch-slide"), 150.0, (150.0,), 0.0, 0),
        (("cells-aa-3-leads", "switch-slide"), 200.0, (150.0,), 66.0, 1),
        (("cells-aa-3-leads", "switch-slide-leads"), 200.0, (108.0, 108.0), 0.0, 1),
        (("cells-aa-3-leads", "switch-slide-leads"), 250.0, (146.0, 120.0), 0.0, 1),
        (("cells-aa-3-leads", "switch-slide-leads"), 300.0, (150.0, 120.0), 62.0, 2),
        (("cells-aa-3", "switch-slide"), 80.0, (), 80.0, 0),
    ],
)
def test_what_a_wire_is_made_of(
    ids: tuple[str, str], cut: float, own: tuple[float, ...], spool: float, joints: int
) -> None:
    """By hand: a holder's 150 mm, a switch's 120 mm; a joint laps 8 mm of either side."""
    parts = read_catalogue()
    built = _built({name: parts[part_id] for name, part_id in zip("ab", ids, strict=True)})
    assert built.train.wiring.allowances.splice_overlap == 8
    made = made_of(built, _wire(built, cut))
    assert tuple(length for _, length in made.own) == own
    assert (made.spool_mm, made.joints) == (spool, joints)
    assert from_the_spool(built, _wire(built, cut)) == (spool, joints)


@pytest.mark.parametrize(
    ("joints", "fitting"),
    [
        (("header", "header"), {"lead-socket-socket"}),
        (("header", "lever"), {"lead-socket-pin", "lead-socket-bare"}),
        (("screw", "header"), {"lead-socket-pin", "lead-socket-bare"}),
        (("screw", "lever"), {"lead-pin-pin"}),
        (("header", "solder"), {"lead-socket-bare"}),
        (("solder", "solder"), set()),
    ],
)
def test_which_single_leads_fit_between_two_pins(
    joints: tuple[PinJoint, PinJoint], fitting: set[str]
) -> None:
    """Sockets go on pins of a row, pins into clamps, tinned ends into clamps and onto pads; verify agrees."""
    parts = {}
    for name, joint in zip(("one", "two"), joints, strict=True):
        part = block(name, (10.0, 10.0, 5.0), pins=1)
        parts[name] = replace(part, pins=(replace(part.pins[0], joint=joint),))
    built = _built(parts)
    wire = replace(_wire(built, 90.0), awg=28, outer_mm=1.3)
    leads = {one: lead for one, part in read_catalogue().items() if (lead := part.figure(Lead)) is not None}
    assert {name for name, lead in leads.items() if _fits(built, wire, lead)} == fitting
    for lead in leads.values():
        ends = [_fits_at(built, end) for end in (wire.start, wire.end)]
        held = any(a in ends[0] and b in ends[1] for a, b in permutations((lead.first, lead.second)))
        assert held == _fits(built, wire, lead)


def test_the_wired_form_is_the_part_with_leads() -> None:
    """Same room, same figures; its resistor is in the lead, and no iron is named where its ends are made."""
    parts = read_catalogue()
    bare, wired = parts["emitter-5mm"], parts["emitter-5mm-leads"]
    leads = wired.figure(OwnLeads)
    assert leads is not None
    assert (leads.length_mm, leads.end) == (200.0, "socket")
    assert (wired.envelope, wired.clearances, wired.mount) == (bare.envelope, bare.clearances, bare.mount)
    assert {pin.joint for pin in wired.pins} == {"attached"}
    series = wired.figure(SeriesResistor)
    assert series is not None
    assert series.place == "board"
    assert "soldering" not in wired.cautions


@pytest.fixture(scope="module")
def ironless() -> Plan:
    return plan_train(variant("no iron"))


def test_a_train_without_an_iron(ironless: Plan) -> None:
    """Complete, free of stops, held; nothing is soldered, and each lead is bought or comes with its part."""
    assert ironless.works
    assert recheck(ironless).holds
    harness = ironless.built.harness
    assert harness.splices == ()
    assert not any(step.joint == "solder" for step in ironless.work.steps if step.act == "join")
    own = [wire for wire in harness.wires if wire.lead is not None and wire.lead.own]
    assert {end.owner for wire in own for end in (wire.start, wire.end)} >= {"front eyes", "emitter"}
    bought: Counter[str] = Counter()
    for one in ironless.buying:
        bought[one.part] += int(one.needed)
    single = [wire for wire in harness.wires if wire.lead and wire.lead.part_id == "lead-socket-socket"]
    assert bought["lead-socket-socket"] == len(single) > 5
    assert bought["emitter-5mm-leads"] == 1
    (cost,) = (one for one in ironless.findings if one.message.startswith("without an iron"))
    folds = [wire.lead.fold for wire in harness.wires if wire.lead and not wire.inside]
    stowed = sum(fold.volume for fold in folds if fold is not None) / 1000
    assert f"takes {stowed:.1f} cm³" in cost.message
    # 46 × 18 mm and 19.4 mm more in height; the ranger's row looks down: 28.7 cm³, 16.7 soldered.
    assert "brain 46.0 × 18.0 × 27.6 mm (46.0 × 18.0 × 8.2 mm soldered)" in cost.message
    assert "rear eyes 16.2 × 45.0 × 39.4 mm (18.6 × 45.0 × 20.0 mm soldered)" in cost.message
    assert cost.figure == pytest.approx(16.06 + 11.98 + stowed, abs=0.15)
    # A plan file keeps what its checks ask of other forms.
    assert recheck(plan_from_json(plan_to_json(ironless))).holds


@pytest.mark.parametrize("lie", ["no room for the rest", "bought", "too short", "cut from the spool"])
def test_a_lie_about_a_lead_of_its_own_is_noticed(lie: str, ironless: Plan) -> None:
    """The checker knows what a part comes with."""

    def told(wire: Wire) -> Wire:
        if wire.lead is None or not wire.lead.own:
            return wire
        lead = {
            "no room for the rest": replace(wire.lead, fold=None),
            "bought": replace(wire.lead, own=False),
            "too short": replace(wire.lead, length_mm=100.0),
            "cut from the spool": None,
        }[lie]
        return replace(wire, lead=lead)

    harness = replace(ironless.built.harness, wires=tuple(told(one) for one in ironless.built.harness.wires))
    assert not recheck(replace(ironless, built=replace(ironless.built, harness=harness))).holds


def test_a_lead_runs_over_a_coupling() -> None:
    """In one piece, counted at the coupling beside its connector; its surplus lies where it runs.

    Floor and wire hole are smooth: over studs of 1.7 mm 9.6 mm leave 7.9, and its plug takes 8.
    """
    plan = plan_train(variant("board in the engine, its floor smooth, bank on the deck"))
    assert plan.works
    assert recheck(plan).holds
    lead = next(wire for wire in plan.built.harness.wires if wire.net == "bank lead")
    assert [leg.vehicle for leg in lead.legs] == ["engine", "wagon"]
    (crossing,) = plan.built.harness.crossings
    assert crossing.beside == (lead.number,)
    assert lead.number not in crossing.joined
    assert any("in one piece: to part engine from wagon unplug it" in one.message for one in plan.findings)
    engine = plan.built.train.vehicle("engine")
    low = tuple(replace(port, box=Box((0, 20, 26), (8, 26, 33))) for port in engine.vehicle.ports)
    vehicles = (
        replace(engine, vehicle=replace(engine.vehicle, ports=low)),
        plan.built.train.vehicle("wagon"),
    )
    narrow = replace(plan.built, train=replace(plan.built.train, vehicles=vehicles))
    told = [one.message for one in verify(replace(plan, built=narrow)).problems]
    assert "goes as it is through a port that its plug is too thick for" in told
    # The board is in the engine: its plug of 10 mm does not go through 6 mm, nor does the bank's of 18 mm.
    wires = tuple(
        replace(one, lead=replace(one.lead, shortened=True, fold=None)) if one.lead is not None else one
        for one in narrow.harness.wires
    )
    cut = replace(narrow, harness=replace(narrow.harness, wires=wires))
    found = next(one for one in check_leads(cut).findings if one.where == f"wire {lead.number} (bank lead)")
    assert found.severity == "caution"
    assert found.message.startswith("the plugs of a lead of")
    assert "do not go through the ports on its way: cut it to" in found.message
    assert found.remedy.endswith("make the ports wider, or move the two into one vehicle")
    wide = replace(cut, train=plan.built.train)
    found = next(one for one in check_leads(wide).findings if one.where == f"wire {lead.number} (bank lead)")
    assert found.message.startswith("there is no room for what a lead of")
    for changed in (replace(crossing, beside=()), replace(crossing, wires=crossing.wires[:-1])):
        harness = replace(plan.built.harness, crossings=(changed,))
        assert not recheck(replace(plan, built=replace(plan.built, harness=harness))).holds


def test_what_leads_do_not_join_is_laid_nearer() -> None:
    """Without an iron 250 mm are too far for a holder's leads of 150 mm; with one they are joined to more."""
    parts = read_catalogue()
    catalogue = {name: parts[part_id] for name, part_id in (("a", "cells-aa-3-leads"), ("b", "switch-slide"))}
    iron = _built(catalogue)
    far = tuple(
        replace(one, place=Place(pose_named("+x+y+z"), (x, 10.0, 20.0)))
        for one, x in zip(iron.placements, (10.0, 210.0), strict=True)
    )
    joined = Net("n", "supply", tuple(PinRef(name, part.pins[0].name) for name, part in catalogue.items()))
    train = replace(iron.train, wiring=replace(iron.train.wiring, solder=False), nets=(joined,))
    bare = replace(iron, train=train, placements=far)
    short, reaching = (replace(bare, harness=Harness((_wire(bare, cut),))) for cut in (250.0, 140.0))
    packing = Packing("v", "fits", far)
    run = PlanningRun(train, PlanOptions())
    assert too_short(short) == short.harness.wires
    assert too_short(reaching) == ()
    assert too_short(replace(short, train=iron.train)) == ()
    assert list(packed_for_leads(run, reaching, (packing,))) == []
    found = next(packed_for_leads(run, short, (packing,)))
    boxes = [one.bounds for one in found[0].placements]
    gaps = [max(p.low[i] - q.high[i], q.low[i] - p.high[i], 0.0) for p, q in [boxes] for i in range(3)]
    assert sum(gaps) < 30.0


def test_a_lead_thinner_than_its_net_stays_as_built(tmp_path: Path) -> None:
    """A lamp's own lead of AWG 28 in a ground of AWG 24: planned again, it lies as it was built."""
    folder = resources.files("fitplan.files.gallery") / "double-deck"
    for name in ("double-deck.yaml", "train.yaml"):
        text = (folder / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text.replace("part: lamp-5mm,", "part: lamp-5mm-leads,"), "utf-8")
    train = read_train(tmp_path / "train.yaml")
    first = plan_train(train)
    own = [wire for wire in first.built.harness.wires if made_of(first.built, wire).own]
    assert {wire.awg for wire in own} == {28}
    grounds = {wire.awg for wire in first.built.harness.wires if wire.net == "ground"}
    assert grounds == {24, 28}
    there = as_built_of(first)
    again = plan_train(replace(train, as_built=there))
    assert again.rework.changes == ()
    thin = BuiltTrain(replace(train, as_built=there), first.built.placements, Harness(), ())
    single = Conductor(24, 1, 1.6, 7)
    gauges = {wire.net: single for wire in there.wires}
    assert {wire.number for wire in as_thick(thin, gauges)} >= {wire.number for wire in own}
    bare = replace(thin, placements=())
    assert not {wire.number for wire in as_thick(bare, gauges)} & {wire.number for wire in own}


@pytest.mark.parametrize(("before", "whole"), [(None, True), (200.0, True), (50.0, False)])
def test_a_lead_that_was_cut_once_is_not_laid_whole_again(
    before: float | None, whole: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lead of 200 mm with its socket on lies whole where 50 mm are wanted; cut to that, it stays so."""
    catalogue = read_catalogue()
    built = _built({"lamp": catalogue["lamp-5mm-leads"], "brain": catalogue["controller-compact-5v-pins"]})
    lamp, brain = (need.candidates[0] for need in built.train.needs)
    ends = [
        WireEnd("pin", name, pin.name, "v", (10.0, 10.0, 20.0), 0.0)
        for name, pin in (
            ("lamp", next(one for one in lamp.pins if one.joint == "attached")),
            ("brain", next(one for one in brain.pins if one.joint == "header")),
        )
    ]
    wire = replace(_wire(built, 50.0), start=ends[0], end=ends[1], awg=28, outer_mm=1.2)
    if before is not None:
        joints = tuple(BuiltEnd("pin", end.owner, end.pin) for end in ends)
        leg = BuiltLeg("v", wire.legs[0].points)
        there = BuiltWire(1, "n", "RD", 28, before, *joints, (leg,))
        built = replace(built, train=replace(built.train, as_built=AsBuilt(wires=(there,))))
    asked = []

    def as_bought(_built: BuiltTrain, given: Wire, part: str, *_: object) -> Wire:
        asked.append(part)
        return replace(given, cut_mm=200.0, lead=BoughtLead(part, 200.0, "v", None))

    monkeypatch.setattr("fitplan.planning.ready_made._as_lead", as_bought)
    made = _with_own(built, wire, [ends[0]], {})
    assert asked == (["lamp-5mm-leads"] if whole else [])
    assert made.cut_mm == (200.0 if whole else 50.0)
