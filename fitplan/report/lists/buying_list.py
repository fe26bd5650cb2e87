"""What is bought, by where one buys it, with spare numbers and prices where the catalogue has them."""

from __future__ import annotations

from fitplan.model.plan import Plan
from fitplan.report.lists.plan_list import Cell, PlanList
from fitplan.report.lists.tracing import steps_of
from fitplan.report.lists.wording import number, runs_word


def buying_list(plan: Plan) -> PlanList:
    """Return one row a thing to have; prices stand where the user gave them."""
    rows: list[tuple[Cell, ...]] = []
    for one in plan.buying:
        digits = 2 if one.unit == "m" else 0
        rows.append(
            (
                one.shop,
                round(one.buy, digits),
                one.unit,
                one.name,
                round(one.needed, digits),
                round(one.spare, digits),
                round(one.owned, digits) if one.owned else "",
                ", ".join(one.serves),
                runs_word(steps_of(plan, one)),
                one.where,
                one.part,
                one.note,
                round(one.cost, 2) if one.each else "",
            )
        )
    columns = (
        "where to buy",
        "buy",
        "unit",
        "what",
        "of which needed",
        "to spare",
        "you have",
        "serves",
        "in steps",
        "in",
        "id",
        "note",
        "price",
    )
    total = sum(one.cost for one in plan.buying)
    note = f"Price of what has one: {number(total, 2)}." if total else "No part in use has a price."
    return PlanList("buying", "What to buy", columns, tuple(rows), note if rows else "")
