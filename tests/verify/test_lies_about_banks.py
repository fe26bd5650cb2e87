"""A bank that feeds the clay run: one lie at a time about its staying on, its button and sockets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from fitplan.model.electrical import Bank
from fitplan.model.found import Finding
from fitplan.model.placed import Fastening, Piece
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.verify.banks import check_banks
from fitplan.verify.scene import sites_of
from tests.conftest import Planned
from tests.verify.lies import built_with, needs_with, placed_with, problems

Findings = tuple[Finding, ...]


@pytest.fixture(scope="module")
def plan(planned: Planned) -> Plan:
    """Return the clay run's plan: its bank plugs into the board by a lead."""
    return planned("clay-run")


def said(plan: Plan, findings: Findings | None = None) -> list[str]:
    """Return what is wrong with what is said of banks."""
    told = plan.findings if findings is None else findings
    return [one.message for one in problems(check_banks, plan.built, sites_of(plan.built), told)]


def changed(plan: Plan, subject: str, words: str, change: Callable[[Finding], Finding | None]) -> Findings:
    """Return the findings with those that say some words changed, or left out."""
    hit = [one for one in plan.findings if one.subject == subject and words in one.message]
    assert hit
    kept = (change(one) if one in hit else one for one in plan.findings)
    return tuple(one for one in kept if one is not None)


def test_the_plan_holds(plan: Plan) -> None:
    """Summed by hand: 5 mA of board and two rangers of 15 mA, and lamps of 60 mA, all the time."""
    assert said(plan) == []
    (told,) = (one for one in plan.findings if one.where == "bank" and "stays on" in one.message)
    placed = {one.need: one.part for one in plan.built.placements}
    steady = sum(
        figure.current_ma
        for name in ("brain", "front eyes", "rear eyes", "work lights")
        for figure in placed[name].electrical
        if hasattr(figure, "current_ma")
    )
    assert told.figure == pytest.approx(steady, abs=0.1)


def test_volts_behind_its_lead_are_worked_out_again(plan: Plan) -> None:
    """160 mA of board, rangers and lamps at peak over 2 × 0.2 m lose 6 mV; with a thin, long lead 0.6 V."""
    (told,) = (one for one in plan.findings if "behind the lead from bank" in one.message)
    assert "4.99 V" in told.message

    def lie(one: Finding) -> Finding:
        return replace(one, message=one.message.replace("4.99 V", "4.97 V"))

    false = changed(plan, "leads", "behind the lead", lie)
    assert said(plan, false) == ["is said to have 4.97 V behind its lead; 160 mA leave 4.99 V"]
    none = changed(plan, "leads", "behind the lead", lambda one: None)
    assert said(plan, none) == ["0 findings say what arrives behind its lead; expected one"]
    wires = tuple(
        replace(wire, awg=34, cut_mm=2200.0) if wire.lead is not None else wire
        for wire in plan.built.harness.wires
    )
    thin = replace(plan, built=replace(plan.built, harness=replace(plan.built.harness, wires=wires)))
    texts = said(thin)
    # 40 °C, IEC 60228 copper with 2 % for the lay: 0.9376 Ω a metre, both ways 4.126 Ω.
    assert "is said to have 4.99 V behind its lead; 160 mA leave 4.34 V" in texts


@pytest.mark.parametrize("by", [-20.0, 20.0])
def test_the_least_current_is_worked_out_again(plan: Plan, by: float) -> None:
    """A figure that is 20 mA off is noticed; one that nobody tells, too."""
    false = changed(plan, "supply", "the bank stays on", lambda one: replace(one, figure=one.figure + by))
    assert any("its loads come to" in text for text in said(plan, false))
    none = changed(plan, "supply", "the bank stays on", lambda one: None)
    assert any("0 findings say whether it stays on" in text for text in said(plan, none))


def test_a_bank_that_would_go_to_sleep_is_no_note(plan: Plan) -> None:
    """With a bank that wants 500 mA, and with lamps that burn at times only, a note is a lie."""
    bank = plan.built.placement("bank")
    assert bank is not None
    figures = tuple(
        replace(one, off_below_ma=500.0) if isinstance(one, Bank) else one for one in bank.part.electrical
    )
    greedy = placed_with(plan, "bank", part=replace(bank.part, electrical=figures))
    false = changed(plan, "supply", "the bank stays on", lambda one: replace(one, limit=500.0))
    assert any("may switch itself off below 500 mA" in text for text in said(greedy, false))
    blinking = needs_with(plan, "work lights", duty=0.5)
    assert any("its loads come to" in text for text in said(blinking))


@pytest.mark.parametrize("access", ["button", "charging socket"])
def test_buttons_and_sockets_are_come_by_with_the_bank_in_its_place(plan: Plan, access: str) -> None:
    """Said to be reached by taking the bank out, or by nothing, without a caution."""
    way = next(one for one in plan.built.exchanged if (one.need, one.access) == ("bank", access))
    assert way.last is not None
    out = replace(way, last=replace(way.last, parts=("bank",)))
    for false in (out, replace(way, reached=False, last=None)):
        rest = tuple(false if one is way else one for one in plan.built.exchanged)
        assert any("in its place, and no caution" in text for text in said(built_with(plan, exchanged=rest)))
    gone = tuple(one for one in plan.built.exchanged if one is not way)
    assert any(f"nothing says how {access}" in text for text in said(built_with(plan, exchanged=gone)))


def test_bricks_and_folds_keep_off_the_charging_plug(plan: Plan) -> None:
    """A brick pressed on before the charging socket, and the lead's surplus laid there, are told."""
    bank = plan.built.placement("bank")
    assert bank is not None
    x, y, z = bank.bounds.low[0], bank.bounds.low[1], bank.bounds.low[2]
    high = bank.bounds.high
    front = Box((high[0] + 2, y + 6, z + 2), (high[0] + 10, y + 14, z + 8))
    rear = Box((x - 10, y + 6, z + 2), (x - 2, y + 14, z + 8))
    hits = []
    for box in (front, rear):
        held = Fastening("brain", "wagon", ("+x",), (Piece("brick 1 × 1", box),))
        hits.append(any("brick 1 × 1" in text for text in said(built_with(plan, fastenings=(held,)))))
    assert hits.count(True) == 1, "the socket is at one end of the bank, and the brick in its way at that end"
    wires = tuple(
        replace(one, lead=replace(one.lead, fold=front if hits[0] else rear))
        if one.lead is not None and one.lead.fold is not None
        else one
        for one in plan.built.harness.wires
    )
    laid = built_with(plan, harness=replace(plan.built.harness, wires=wires))
    assert any("left over of wire" in text for text in said(laid))


def test_a_socket_that_is_taken_is_told(plan: Plan) -> None:
    """Left out, or said of a board that no lead is plugged into."""
    none = changed(plan, "leads", "unplug that lead first", lambda one: None)
    assert said(plan, none) == ["is fed by a lead in its socket, and nothing says to unplug it first"]
    other = changed(plan, "leads", "unplug that lead first", lambda one: replace(one, where="rear eyes"))
    assert any("no lead is plugged into it" in text for text in said(plan, other))


def test_of_a_bank_without_a_place_nothing_need_be_said(plan: Plan) -> None:
    """It feeds nothing yet, and its lead is not cut: neither its staying on nor a taken socket is missed."""
    left = tuple(place for place in plan.built.placements if place.part.figure(Bank) is None)
    wires = tuple(wire for wire in plan.built.harness.wires if wire.lead is None)
    built = replace(plan.built, placements=left, harness=replace(plan.built.harness, wires=wires))
    kept = tuple(one for one in plan.findings if one.where != "bank")
    assert [one.message for one in problems(check_banks, built, sites_of(built), kept)] == []
