"""The plan in plain text: what a person reads first, and what is handed on by mail."""

from __future__ import annotations

import textwrap

from fitplan.model.plan import Plan
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.rework_list import rework_words
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import (
    added_words,
    counted,
    headline,
    millimetres,
    number,
    sentence,
    shorten,
    tells_a_figure,
)
from fitplan.report.terminal.tables import SEVERITY_SIGNS, VERDICT_SIGNS

WIDTH = 100
_TOLD = 1500
"""Characters of a finding's message, and of what to do: every brick that comes out is in it."""


def summary_text(plan: Plan) -> str:
    """Return the plan as text of at most 100 columns, ending with a line break."""
    lines = [
        shorten(plan.built.train.name, WIDTH),
        "=" * min(WIDTH, len(shorten(plan.built.train.name, WIDTH))),
        "",
    ]
    sign, words = headline(plan)
    lines += _paragraph(f"{VERDICT_SIGNS[sign][0]} {words}. {shorten(summarise(plan), 1500)}")
    lines += ["", "Where everything goes"]
    for entry in plan.built.train.vehicles:
        here = [placement for placement in plan.built.placements if placement.vehicle == entry.name]
        size = f"{entry.vehicle.studs_long} × {entry.vehicle.studs_wide} studs"
        turned = ", turned round" if entry.turned else ""
        lines += _paragraph(f"{shorten(entry.name, 60)} ({size}{turned})", "  ")
        for placement in here:
            what = f"{shorten(placement.need, 60)}: {shorten(placement.part.name, 80)}"
            lines += _paragraph(f"- {what}, carried by {shorten(placement.carried_by, 40)}", "    ")
        if not here:
            lines.append("    - nothing is built in here")
    for need, why in plan.unplaced:
        lines += _paragraph(f"✕ {shorten(need, 60)} has no place: {shorten(why, 300)}", "  ")
    for rebuild in plan.built.rebuilds:
        taken = ", ".join(shorten(name, 140) for name in rebuild.remove) or "nothing"
        text = f"{shorten(rebuild.vehicle, 60)}: take out {taken}; add {added_words(rebuild)}"
        lines += _paragraph(f"◐ {text}. {sentence(shorten(rebuild.carried, 300))}", "  ")
    harness = plan.built.harness
    total = sum(wire.cut_mm for wire in harness.wires) / 1000
    lines += ["", "Harness"]
    wires, splices = counted(len(harness.wires), "wire"), counted(len(harness.splices), "splice")
    lines += _paragraph(f"{wires}, {number(total, 2)} m to cut; {splices}.", "  ")
    for crossing in harness.crossings:
        text = (
            f"coupling {shorten(crossing.name, 30)}"
            f" ({shorten(crossing.ahead, 40)} / {shorten(crossing.behind, 40)}):"
            f" {crossing.conductors} conductors, {millimetres(crossing.diameter_mm, 2)} thick,"
            f" free length {millimetres(crossing.free_mm)} ({shorten(crossing.governing, 200)})"
        )
        lines += _paragraph(text + (", clip asked for" if crossing.clip else ""), "  ")
    for missed in plan.unreached:
        pin = shorten(missed.where, 90)
        lines += _paragraph(f"✕ {pin} is not reached: {shorten(missed.reason, 300)}", "  ")
    if words := rework_words(plan):
        lines += ["", "What changes of what is built"]
        lines += _paragraph(words, "  ")
        for change in plan.rework.changes:
            why = f" ({shorten(change.why, 200)})" if change.why else ""
            lines += _paragraph(f"- {change.change}: {shorten(change.words, 300)}{why}", "  ")
    lines += ["", "Findings"]
    for found in plan.findings:
        figure = f" [{number(found.figure, 2)} against {number(found.limit, 2)} {found.unit}]"
        figure = figure if tells_a_figure(found.unit) else ""
        text = f"{SEVERITY_SIGNS[found.severity][0]} {found.severity} ({shorten(found.where, 60)}): "
        text += f"{shorten(found.message, _TOLD)}{figure}. {sentence(shorten(found.remedy, _TOLD))}"
        lines += _paragraph(text, "  ")
    if not plan.findings:
        lines.append("  none")
    lines += ["", "Care"]
    for caution in cautions_of(plan):
        lines += _paragraph(f"- {caution}", "  ")
    return "\n".join(lines) + "\n"


def _paragraph(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}  ") or [
        indent.rstrip()
    ]
