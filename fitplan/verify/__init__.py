"""The independent checker of a written plan; it knows the model only and shares no code with the search.

In: a plan. Out: a `result.Report`: what was checked, what does not hold.

`scene` stands the parts of a plan in their vehicles; every solid is a prism of a disc or a convex polygon
(`shapes`), so overlap and containment (`overlap`, `body`, `distance`) are closed forms in exact
millimetres. `fit`, `mounts`, `shelves`, `wires`, `nets`, `assembly` and `exchange` each take a part of
the plan; `sliding` replays ways in and out.

Begin with `verify` below.
"""

from __future__ import annotations

from fitplan.model.plan import BuiltTrain, Plan
from fitplan.verify.assembly import check_assembly
from fitplan.verify.exchange import check_exchanges
from fitplan.verify.fit import check_fit
from fitplan.verify.mounts import check_mounts
from fitplan.verify.nets import check_counts, check_nets
from fitplan.verify.result import Checked, Problem, Report, Tally
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.shelves import check_shelves
from fitplan.verify.wires import check_wires

__all__ = ["Checked", "Problem", "Report", "verify"]


def verify(plan: Plan) -> Report:
    """Check a plan again in exact millimetres: room, mounts, wires, nets, counts, and ways in and out.

    A train that is planned only in part can hold: what has no place, no wire or no way in must then be owned
    up to in the plan itself.
    """
    sheet = Tally()
    built = plan.built
    sites = sites_of(built)
    needs = {need.name: need for need in built.train.needs}
    _everything_placed(plan, sites, sheet)
    _rebuilds(built, sheet)
    for site in sites.values():
        check_fit(site, sheet)
        check_shelves(site, sheet)
        check_mounts(site, needs, sheet)
    check_wires(built, sites, sheet)
    check_nets(built, sheet)
    check_counts(built, sites, sheet)
    for site in sites.values():
        check_assembly(site, plan.assembly, plan.assembly_blocked, sheet)
    check_exchanges(built, sites, plan.findings, sheet)
    return sheet.report()


def _everything_placed(plan: Plan, sites: dict[str, Site], sheet: Tally) -> None:
    built = plan.built
    placed = [placement.need for placement in built.placements]
    left_out = {name for name, _ in plan.unplaced}
    for need in built.train.needs:
        sheet.count("needs")
        count = placed.count(need.name)
        if count > 1:
            sheet.problem("need", need.name, f"is placed {count} times", count, "places")
        if count == 0 and need.name not in left_out:
            sheet.problem("need", need.name, "has no place, and the plan does not say so")
        if count and need.name in left_out:
            sheet.problem("need", need.name, "has a place, and the plan says it has none")
    for placement in built.placements:
        if placement.vehicle not in sites:
            sheet.problem("need", placement.need, f"is in {placement.vehicle}, which is no vehicle")


def _rebuilds(built: BuiltTrain, sheet: Tally) -> None:
    for rebuild in built.rebuilds:
        sheet.count("rebuilds")
        names = {entry.name for entry in built.train.vehicles}
        if rebuild.vehicle not in names:
            sheet.problem("rebuild", rebuild.vehicle, "is no vehicle of the train")
            continue
        costs = {entry.name: entry.cost for entry in built.train.vehicle(rebuild.vehicle).vehicle.removables}
        for name in sorted(set(rebuild.remove) - set(costs)):
            sheet.problem("rebuild", rebuild.vehicle, f"takes out {name}, which is no removable brick")
        cost = sum(costs.get(name, 0.0) for name in rebuild.remove)
        if rebuild.cost < cost - 1e-6:
            message = f"says it costs {rebuild.cost:g}; its bricks cost {cost:g}"
            sheet.problem("rebuild", rebuild.vehicle, message, cost - rebuild.cost, "")
