"""Tables of a plan, of fits and of checks for the terminal.

The ``print_`` functions print what the others return as rich renderables. Without colour all signs still
speak: the weight of a finding and each verdict are written out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich import box
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from fitplan.model.found import Finding, Outcome, Severity
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow, Verdict
from fitplan.model.verdict import fit_verdict
from fitplan.report.lists.parts_list import parts_list
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.rework_list import rework_words
from fitplan.report.lists.verdict_words import check_words, fit_words, stops_in_words, summarise
from fitplan.report.lists.wording import (
    added_words,
    clean,
    counted,
    end_word,
    headline,
    number,
    shorten,
    tells_a_figure,
)
from fitplan.report.terminal.wide_tables import row_by_row, widths
from fitplan.verify.result import Report

VERDICT_SIGNS: dict[Verdict, tuple[str, str]] = {
    "fits": ("●", "green"),
    "fits after a rebuild": ("◐", "yellow"),
    "cannot fit": ("✕", "red"),
    "not decided": ("?", "magenta"),
}
SEVERITY_SIGNS: dict[Severity, tuple[str, str]] = {
    "stop": ("■", "red"),
    "caution": ("▲", "yellow"),
    "note": ("○", "cyan"),
}
LONGEST = 800
"""Longer sentences are cut in their middle; a window that is to be made wider takes 600 characters."""


def verdict_text(verdict: Verdict, summary: str = "", words: str = "") -> Text:
    """Return a verdict with its sign, in words of its own where given, and the sentence that goes with it."""
    sign, style = VERDICT_SIGNS[verdict]
    text = Text(f"{sign} {words or verdict}", style=f"bold {style}")
    if summary:
        text.append(f"\n{shorten(summary, LONGEST)}", style="not bold default")
    return text


def plan_summary(plan: Plan) -> RenderableType:
    """Return the verdict, where every part lies, what is missing, and the harness in one line."""
    verdict, words = headline(plan)
    blocks: list[RenderableType] = [verdict_text(verdict, summarise(plan), words), Text()]
    table = plain_table(("part", "is", "vehicle", "place (mm)", "carried by"))
    for placement in plan.built.placements:
        table.add_row(
            shorten(placement.need, 40),
            shorten(placement.part.name, 60),
            shorten(placement.vehicle, 30),
            ", ".join(f"{value:.1f}" for value in placement.bounds.low),
            shorten(placement.carried_by, 30),
        )
    blocks.append(table)
    if words := rework_words(plan):
        blocks.append(Text(words))
    for need, why in plan.unplaced:
        blocks.append(Text(f"✕ {shorten(need, 40)} has no place: {shorten(why, LONGEST)}", "red"))
    harness = plan.built.harness
    for missed in plan.unreached:
        pin = shorten(missed.where, 60)
        why = shorten(missed.reason, LONGEST)
        blocks.append(
            Text(
                f"✕ {pin} is not reached ({shorten(missed.net, 40)}): {why}",
                "red",
            )
        )
    for rebuild in plan.built.rebuilds:
        taken = ", ".join(shorten(name, 140) for name in rebuild.remove) or "nothing"
        blocks.append(
            Text(
                f"◐ {shorten(rebuild.vehicle, 40)}: take out {taken}; add {added_words(rebuild)};"
                f" cost {number(rebuild.cost, 2)}, proved least {number(rebuild.least, 2)}",
            )
        )
    wire_metres = sum(wire.cut_mm for wire in harness.wires) / 1000
    across = ", ".join(
        f"{crossing.conductors} over {shorten(crossing.name, 20)}" for crossing in harness.crossings
    )
    wires, splices = counted(len(harness.wires), "wire"), counted(len(harness.splices), "splice")
    line = f"{wires}, {number(wire_metres, 2)} m to cut, {splices}"
    blocks.append(Text(f"{line}; conductors across the couplings: {across}" if across else line))
    counts = [f"{sum(f.severity == weight for f in plan.findings)} {weight}" for weight in SEVERITY_SIGNS]
    blocks.append(Text("findings: " + ", ".join(counts)))
    return Group(*blocks)


def fit_table(rows: Iterable[FitRow]) -> RenderableType:
    """Return every candidate against every vehicle with its verdict and what is missing."""
    table = plain_table(("need", "part", "vehicle", "verdict", "missing", "why"))
    last = ""
    for row in rows:
        sign, style = VERDICT_SIGNS[row.verdict]
        if last and last != row.need:
            table.add_section()
        last = row.need
        missing = f"{number(row.missing_mm)} mm {row.axis}".strip() if row.missing_mm else ""
        # Where it fits there is nothing to explain; how that was made sure stands in the plan's lists.
        why = shorten(row.reason or (row.proof if row.verdict == "cannot fit" else ""), 200)
        table.add_row(
            shorten(row.need, 30),
            shorten(row.part_id, 40),
            shorten(row.vehicle, 30),
            Text(f"{sign} {row.verdict}", style),
            missing,
            why,
        )
    return table


def findings_table(findings: Sequence[Finding]) -> RenderableType:
    """Return the findings, each with its figure against its limit and what to do."""
    if not findings:
        return Text("no findings")
    table = plain_table(("", "where", "finding", "figure / limit", "what to do"))
    for found in findings:
        sign, style = SEVERITY_SIGNS[found.severity]
        table.add_row(
            Text(f"{sign} {found.severity}", style),
            shorten(found.where, 30),
            shorten(f"{found.subject}: {found.message}", LONGEST),
            f"{number(found.figure, 2)} / {number(found.limit, 2)} {clean(found.unit)}"
            if tells_a_figure(found.unit)
            else "",
            shorten(found.remedy, LONGEST),
        )
    return table


def harness_table(plan: Plan) -> RenderableType:
    """Return one row a wire."""
    table = plain_table(
        ("wire", "net", "colour", "AWG", "from", "to", "bare mm", "cut mm"), right=(0, 3, 6, 7)
    )
    for wire in plan.built.harness.wires:
        table.add_row(
            str(wire.number),
            shorten(wire.net, 30),
            wire.colour,
            str(wire.awg),
            shorten(end_word(wire.start), 40),
            shorten(end_word(wire.end), 40),
            number(wire.bare_mm),
            number(wire.cut_mm),
        )
    return table


def sheet_table(sheet: PlanList, width: int) -> RenderableType:
    """Return any list of `fitplan.report.lists` as a table; row by row where the screen is too narrow."""
    rows = [
        [number(cell, 2) if isinstance(cell, int | float) else shorten(cell, 120) for cell in row]
        for row in sheet.rows
    ]
    wide = widths(sheet.columns, rows, width)
    if wide is None:
        return row_by_row(sheet.title, sheet.columns, rows)
    numeric = tuple(
        place
        for place in range(len(sheet.columns))
        if all(isinstance(row[place], int | float) for row in sheet.rows)
    )
    table = plain_table(sheet.columns, right=numeric)
    for column, characters in zip(table.columns, wide, strict=True):
        column.width = characters
    table.title = sheet.title
    for row in rows:
        table.add_row(*row)
    return table


def plain_table(columns: Sequence[str], right: Sequence[int] = ()) -> Table:
    """Return an empty table in the project's plain style; ``right`` names the columns of numbers."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold", safe_box=True)
    for place, name in enumerate(columns):
        table.add_column(clean(name), justify="right" if place in right else "left", overflow="fold")
    return table


def bench_table(plan: Plan) -> RenderableType:
    """Return what to have on the bench, short enough for a terminal: the lists have it in full."""
    table = plain_table(("quantity", "", "part", "where", "note"), right=(0,))
    for quantity, unit, part, _id, where, serves, note in parts_list(plan).rows:
        for_what = f"{serves}; {note}" if note else str(serves)
        table.add_row(
            number(float(quantity), 2),
            str(unit),
            shorten(str(part), 70),
            shorten(str(where), 40),
            shorten(for_what, 120),
        )
    return table


def print_plan(plan: Plan, console: Console, next_step: str = "") -> None:
    """Print a plan, verdict and places, findings, wires, parts to have, as tables, and what comes next."""
    console.print(plan_summary(plan))
    console.print()
    pressing = [found for found in plan.findings if found.severity != "note"]
    console.print(findings_table(pressing))
    notes = len(plan.findings) - len(pressing)
    if notes:
        console.print(Text(f"and {counted(notes, 'note')}, in the page and in summary.txt", "dim"))
    if plan.built.harness.wires:
        console.print(harness_table(plan))
    console.print(bench_table(plan))
    if next_step:
        console.print(Text(next_step))
    verdict, words = headline(plan)
    console.print(verdict_text(verdict, words=words))


def stops_of(outcomes: Iterable[Outcome]) -> tuple[str, ...]:
    """Return what stops a train, in words, the worst first."""
    return stops_in_words(finding for outcome in outcomes for finding in outcome.findings)


def print_check(stops: tuple[str, ...], console: Console) -> None:
    """Print what looking through a train comes to, before anything has a place."""
    console.print(verdict_text("cannot fit" if stops else "fits", words=check_words(stops)))


def print_fit(rows: Iterable[FitRow], console: Console, stops: tuple[str, ...] = ()) -> None:
    """Print the fit table, and which need has a vehicle that it fits into as it stands."""
    rows = tuple(rows)
    found = fit_verdict(rows)
    sign: Verdict = "cannot fit" if stops and found.holds else found.verdict
    console.print(verdict_text(sign, words=fit_words(found, stops)))
    console.print(fit_table(rows))
    for need in dict.fromkeys(row.need for row in rows):
        mine = [row for row in rows if row.need == need]
        fits = [f"{row.part_id} in {row.vehicle}" for row in mine if row.verdict == "fits"]
        after = [f"{row.part_id} in {row.vehicle}" for row in mine if row.verdict == "fits after a rebuild"]
        open_still = any(row.verdict == "not decided" for row in mine)
        nowhere = "not decided everywhere" if open_still else "fits nowhere as it stands"
        text = f"{need}: " + (f"fits as {', '.join(fits)}" if fits else nowhere)
        text += f"; after a rebuild as {', '.join(after)}" if after else ""
        console.print(Text(shorten(text, LONGEST)))


def print_outcomes(outcomes: Iterable[Outcome], console: Console) -> None:
    """Print the findings and tables of checks."""
    outcomes = tuple(outcomes)
    findings = [found for outcome in outcomes for found in outcome.findings]
    order = list(SEVERITY_SIGNS)
    console.print(findings_table(sorted(findings, key=lambda found: order.index(found.severity))))
    for outcome in outcomes:
        for entry in outcome.tables:
            shown = PlanList("", entry.title, entry.columns, entry.rows, entry.note)
            console.print(sheet_table(shown, console.width))


def print_verification(report: Report, plan: Plan, console: Console) -> None:
    """Print what a second check of a plan found, what the plan itself says, and what was taken on trust."""
    sign, style = ("●", "green") if report.holds else ("✕", "red")
    console.print(Text(f"{sign} {shorten(report.summary, LONGEST)}", f"bold {style}"))
    verdict, words = headline(plan)
    console.print(verdict_text(verdict, words=f"the plan itself: {shorten(words, LONGEST)}"))
    for kind, entries in (("does not hold", report.problems), ("note", report.notes)):
        if not entries:
            continue
        table = plain_table((kind, "where", "what", "figure"))
        for entry in entries:
            figure = f"{number(entry.figure, 3)} {entry.unit}" if entry.unit else ""
            message = shorten(entry.message, LONGEST)
            table.add_row(shorten(entry.subject, 30), shorten(entry.where, 40), message, figure)
        console.print(table)
    if report.trusted:
        table = plain_table(("taken on trust", "how many", "why"))
        for item in report.trusted:
            table.add_row(shorten(item.what, 60), str(item.count), shorten(item.why, LONGEST))
        console.print(table)
