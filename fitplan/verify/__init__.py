"""The independent checker of a written plan; it knows the model only and shares no code with the search.

In: a plan; where they are at hand, its train read anew and its checks run again. Out: a `result.Report`: what
was checked, what does not hold, and what was taken on trust.

`measure` looks whether the figures can be reckoned with at all. `scene` stands the parts of a plan in their
vehicles; every solid is a prism of a disc or a convex polygon (`shapes`), so overlap and containment
(`overlap`, `body`, `distance`) are closed forms in exact millimetres. `fit`, `mounts`, `shelves`, `wires`,
`nets`, `assembly` and `exchange` each take a part of the plan; `sliding` replays ways in and out.
`couplings` poses vehicles on the track (`poses`), `conductors` works out gauges, colours, lengths and drops
again, `bundles`, `pin_map`, `choice` and `findings` hold what is said against what is there, and `origin`
against the files.

Begin with `verify` below.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.plan import BuiltTrain, Outcome, Plan
from fitplan.model.train import Train
from fitplan.verify.assembly import check_assembly, check_order
from fitplan.verify.bundles import check_bundles
from fitplan.verify.choice import check_choice
from fitplan.verify.conductors import check_conductors
from fitplan.verify.couplings import check_couplings
from fitplan.verify.exchange import check_exchanges
from fitplan.verify.findings import check_findings
from fitplan.verify.fit import check_fit
from fitplan.verify.measure import can_be_measured, no_number_missing
from fitplan.verify.mounts import check_mounts
from fitplan.verify.nets import check_counts, check_nets
from fitplan.verify.origin import check_origin
from fitplan.verify.pin_map import check_pin_map
from fitplan.verify.result import Checked, Problem, Report, Tally, Trusted
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.shelves import check_shelves
from fitplan.verify.wires import check_wires

__all__ = ["Checked", "Problem", "Report", "Trusted", "verify"]


def verify(plan: Plan, *, outcomes: Sequence[Outcome] | None = None, train: Train | None = None) -> Report:
    """Check a plan again in exact millimetres: room, mounts, wires, nets, counts, and ways in and out.

    A train that is planned only in part can hold: what has no place, no wire or no way in must then be owned
    up to in the plan itself. It is cheap (the demo takes less than a second) and touches no file, so a plan
    can be checked before it is written.

    Parameters
    ----------
    outcomes
        What the checks find when they are run again on what is built; without them findings are taken on
        trust.
    train
        The train as its files hold it now; without it, vehicles and parts are taken as the plan has them.
    """
    sheet = Tally()
    if not can_be_measured(plan, sheet):
        return sheet.report()
    no_number_missing(plan, sheet)
    built = plan.built
    sites = sites_of(built)
    needs = {need.name: need for need in built.train.needs}
    findings = plan.findings
    _everything_placed(plan, sites, sheet)
    _rebuilds(built, sheet)
    for site in sites.values():
        check_fit(site, sheet)
        check_shelves(site, sheet)
        check_mounts(site, needs, sheet)
    check_wires(built, sites, sheet)
    check_conductors(built, findings, sheet)
    check_nets(built, sheet)
    check_pin_map(built, findings, sheet)
    check_counts(built, sites, sheet)
    check_bundles(built, sheet)
    check_couplings(built, sheet)
    check_order(plan.assembly, tuple(sites), sheet)
    for site in sites.values():
        check_assembly(site, plan.assembly, plan.assembly_blocked, sheet)
    check_exchanges(built, sites, findings, sheet)
    check_choice(plan, sheet)
    check_findings(plan, outcomes, sheet)
    check_origin(built.train, train, sheet)
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
        bricks = {entry.name for entry in built.train.vehicle(rebuild.vehicle).vehicle.removables}
        for name in sorted(set(rebuild.remove) - bricks):
            sheet.problem("rebuild", rebuild.vehicle, f"takes out {name}, which is no removable brick")
