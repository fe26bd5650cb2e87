"""What readings say, on the terminal: the worst first, with where to look."""

from __future__ import annotations

import math

from rich.console import Console
from rich.text import Text

from fitplan.model.meter import MeterPlan
from fitplan.report.lists.meter_list import bounds_words, coverage_words, leads_words
from fitplan.report.lists.wording import counted, number, shorten
from fitplan.report.terminal.tables import plain_table
from fitplan.workbench.judging import Judged


def print_judged(judged: Judged, meter: MeterPlan, console: Console) -> None:
    """Print how readings stand against the sequence, what is wrong and what comes next."""
    wrong, missing = len(judged.wrong), len(judged.missing)
    sign, style = ("●", "green") if judged.passed else ("✕", "red") if wrong else ("○", "yellow")
    words = f"{counted(judged.right, 'reading')} as they must be, {wrong} wrong, {missing} not taken"
    console.print(Text(f"{sign} {words}", f"bold {style}"))
    if judged.wrong:
        table = plain_table(("no.", "leads", "read", "must read", "look"), right=(0,))
        for test, value in judged.wrong:
            red, black = leads_words(test)
            read = "open" if math.isinf(value) else f"{number(value, 2)} {test.quantity}"
            leads = f"{shorten(red, 60)} / {shorten(black, 40)}"
            table.add_row(str(test.number), leads, read, bounds_words(test), shorten(test.look, 240))
        console.print(table)
    if judged.suspects:
        listed = ", ".join(str(wire) for wire in judged.suspects)
        console.print(Text(f"Wire {listed}: in every reading that is too high and in none that is right."))
    console.print(Text(coverage_words(meter.coverage), "dim"))
    if wrong and any(test.stage not in ("source", "power") for test, _ in judged.wrong):
        console.print("Next: mend it and read again; no cells before all readings without them are right.")
    elif wrong:
        console.print("Next: switch off, cells out; mend it, then begin again without cells.")
    elif missing:
        first = judged.missing[0]
        console.print(f"Next: reading {first.number} ({first.stage}).")
    elif meter.held:
        console.print(Text(f"Next: {meter.held}."))
    else:
        console.print("Next: the first run, by hand, with a finger at the switch.")
