"""The meter sequence as a list: what is touched, what must be read, a column to fill in."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.meter import STAGE_WORDS, STAGES, MeterCoverage, MeterTest, Probe
from fitplan.model.plan import Plan
from fitplan.report.lists.plan_list import Columns, PlanList, list_of
from fitplan.report.lists.wording import number

READING = "reading"
"""Head of the column that is filled in."""


def probe_word(probe: Probe) -> str:
    """Return a place for a lead as ``"brain.D7"`` or ``"J1 cavity 3"``."""
    return f"{probe.owner} cavity {probe.pin}" if probe.kind == "connector" else f"{probe.owner}.{probe.pin}"


def leads_words(test: MeterTest) -> tuple[str, str]:
    """Return what the red and the black lead touch; of several pairs, runs of neighbours in the first."""
    if len(test.pairs) == 1:
        red, black = test.pairs[0]
        return probe_word(red), probe_word(black)
    owner = test.pairs[0][0].owner
    runs: list[list[str]] = []
    for one, other in test.pairs:
        if runs and runs[-1][-1] == one.pin:
            runs[-1].append(other.pin)
        elif runs and runs[-1][-1] == other.pin:
            runs[-1].append(one.pin)
        else:
            runs.append([one.pin, other.pin])
    kind = "cavities " if test.pairs[0][0].kind == "connector" else ""
    return f"{owner} {kind}{', '.join(' – '.join(run) for run in runs)}", "each against the next"


def bounds_words(test: MeterTest) -> str:
    """Return what the reading must be: ``"2 Ω at most"``, ``"4.75 to 5.25 V"``."""
    unit = test.quantity
    if test.high is None:
        return f"{number(test.low)} {unit} at least"
    if test.low <= 0 and unit == "Ω":
        return f"{number(test.high)} {unit} at most"
    digits = 2 if unit == "V" else 1
    return f"{number(test.low, digits)} to {number(test.high, digits)} {unit}"


def coverage_words(coverage: MeterCoverage) -> str:
    """Return in a sentence how many single faults the readings without cells tell."""
    text = (
        f"Readings without cells tell {coverage.opens_told} of {coverage.opens} broken wires, "
        f"{coverage.swaps_told} of {coverage.swaps} exchanged neighbours and {coverage.shorts_told} of "
        f"{coverage.shorts} bridges between neighbours."
    )
    return " ".join([text, *(f"Not told: {why}." for why in coverage.untold)])


def meter_list(plan: Plan) -> PlanList:
    """Return one row a reading, with an empty column to write what the meter shows."""
    columns: Columns[MeterTest] = (
        ("no.", lambda test: test.number),
        ("stage", lambda test: test.stage),
        ("vehicle", lambda test: test.vehicle),
        ("first", lambda test: test.first),
        ("red lead", lambda test: leads_words(test)[0]),
        ("black lead", lambda test: leads_words(test)[1]),
        ("must read", bounds_words),
        (READING, lambda _: ""),
        ("otherwise", lambda test: test.look),
    )
    note = coverage_words(plan.meter.coverage) if plan.meter.tests else ""
    if plan.meter.held:
        note = f"{note} {plan.meter.held[:1].upper()}{plan.meter.held[1:]}.".strip()
    return list_of("meter", "Meter before the switch", columns, plan.meter.tests, note)


def meter_stages(plan: Plan) -> list[tuple[str, str, PlanList]]:
    """Return the sequence stage by stage: name, the state that the train is in, its readings."""
    whole = meter_list(plan)
    at = whole.columns.index("stage")
    found: list[tuple[str, str, PlanList]] = []
    for stage in STAGES:
        rows = tuple(row for row in whole.rows if row[at] == stage)
        if rows:
            readings = replace(whole, rows=rows, note="").without("stage")
            found.append((stage, STAGE_WORDS[stage], readings))
    return found
