"""What is bought, by where one buys it, with spare numbers and prices where the catalogue has them."""

from __future__ import annotations

from fitplan.model.buying import Article
from fitplan.model.plan import Plan
from fitplan.report.lists.plan_list import Columns, PlanList, list_of
from fitplan.report.lists.tracing import steps_of
from fitplan.report.lists.wording import number, runs_word


def buying_list(plan: Plan) -> PlanList:
    """Return one row a thing to have; prices stand where the user gave them."""
    columns: Columns[Article] = (
        ("where to buy", lambda one: one.shop),
        ("buy", lambda one: _amount(one.buy, one)),
        ("unit", lambda one: one.unit),
        ("what", lambda one: one.name),
        ("of which needed", lambda one: _amount(one.needed, one)),
        ("to spare", lambda one: _amount(one.spare, one)),
        ("you have", lambda one: _amount(one.owned, one) if one.owned else ""),
        ("serves", lambda one: ", ".join(one.serves)),
        ("in steps", lambda one: runs_word(steps_of(plan, one))),
        ("in", lambda one: one.where),
        ("id", lambda one: one.part),
        ("note", lambda one: one.note),
        ("price", lambda one: round(one.cost, 2) if one.each else ""),
    )
    total = sum(one.cost for one in plan.buying)
    note = f"Price of what has one: {number(total, 2)}." if total else "No part in use has a price."
    return list_of("buying", "What to buy", columns, plan.buying, note if plan.buying else "")


def _amount(amount: float, of: Article) -> float:
    return round(amount, 2 if of.unit == "m" else 0)
