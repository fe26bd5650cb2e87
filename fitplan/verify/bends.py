"""What is told of bends and of wires alike in colour, against the wires.

Every leg of a wire has one row of bends: of its own thickness, with a corner that lies on its way and no more
corners than the way has. How wide an arc has room there is taken on trust. Two nets that are told to be alike
are, and their wires bear sleeves; no others do.
"""

from __future__ import annotations

from itertools import pairwise

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box
from fitplan.verify.distance import line_to_shape
from fitplan.verify.result import Tally

ON_WAY = 0.01
"""A corner is on a way when it is no farther off (mm)."""


def check_bends(built: BuiltTrain, sheet: Tally) -> None:
    """Check the rows of bends, and who bears sleeves."""
    facts = built.harness.facts
    legs = {(wire.number, leg.vehicle): (wire, leg) for wire in built.harness.wires for leg in wire.legs}
    if facts.bends:
        rows = [(row.wire, row.vehicle) for row in facts.bends]
        wanted = [key for key, (_, leg) in legs.items() if len(leg.points) > 1]
        for number, vehicle in sorted(set(rows) ^ set(wanted)):
            sheet.problem(
                "bends", f"wire {number}", f"its bends in {vehicle} are told, or it runs there: not both"
            )
        for number, vehicle in sorted({key for key in rows if rows.count(key) > 1}):
            sheet.problem("bends", f"wire {number}", f"its bends in {vehicle} are told twice")
    for row in facts.bends:
        sheet.count("rows of bends")
        wire, leg = legs.get((row.wire, row.vehicle), (None, None))
        if wire is None or leg is None or len(leg.points) < 2:
            continue
        where = wire.label
        if row.outer_mm != wire.outer_mm:
            sheet.problem(
                "bends", where, f"is told to be {row.outer_mm:g} mm thick, and is {wire.outer_mm:g}"
            )
        if not 0 <= row.corners <= max(len(leg.points) - 2, 0):
            sheet.problem(
                "bends", where, f"turns at {row.corners} corners; its way has {len(leg.points) - 2}"
            )
        spot = Box(row.at, row.at)
        away = min(line_to_shape(a, b, spot) for a, b in pairwise(leg.points))
        if away > ON_WAY:
            message = f"its tightest corner in {row.vehicle} is told {away:.1f} mm beside its way"
            sheet.problem("bends", where, message, away, "mm")
        if row.tightest_mm < 0 or row.at_end_mm < 0:
            sheet.problem("bends", where, "has room for less than nothing at a corner")
    sheet.trust("room for bends", len(facts.bends), "how wide an arc each corner has room for")
    alike = {net for one, other, _ in facts.alike for net in (one, other)}
    for wire in built.harness.wires:
        if wire.sleeved != (wire.net in alike):
            what = "bears sleeves" if wire.sleeved else "bears no sleeves"
            sheet.problem("colour", wire.label, f"{what}, and its colour says otherwise")
    colours = {wire.net: wire.colour for wire in built.harness.wires}
    for one, other, colour in facts.alike:
        if {colours.get(one, colour), colours.get(other, colour)} != {colour}:
            sheet.problem("colour", one, f"is told to be {colour} as {other} is, and is not")
