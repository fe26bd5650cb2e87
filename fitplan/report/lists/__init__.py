"""Every list of a plan as plain tables, and how values are worded in them.

In: a plan. Out: a `plan_list.PlanList` for each list; the CSV files, workbook, page, sheets and
terminal all show these same rows. `wording` is the one place that says how a number, a wire's end or a
colour is written; `cautions` are the usual cautions that belong to a plan.

Begin with `every_list.all_lists`.
"""
