"""The independent checker of a written plan; it knows the model only and shares no code with the search.

In: a plan; where they are at hand, its train read anew and its checks run again. Out: a `result.Report`: what
was checked, what does not hold, and what was taken on trust.

`measure` looks whether the figures can be reckoned with at all. `scene` stands the parts of a plan in their
vehicles; every solid is a prism of a disc or a convex polygon (`shapes`), so overlap and containment
(`overlap`, `body`, `distance`) are closed forms in exact millimetres. `fit`, `mounts`, `shelves`, `wires`,
`nets`, `assembly` and `exchange` each take a part of the plan, `bores` what lies in a round one; `sliding`
replays ways in and out.
`nodes` writes the nets as a circuit and works out its volts, `switched_on` judges them; `resistors` are those
in series. `detours` holds what wires tell of longer ways against their shortest ones, `meter` the readings
and `buying` the list that is bought from against the harness, `lists` both against themselves made again;
`wider_windows` tries what is proposed for windows, and `work` replays the order of work.
`open_ends` looks whether no brick is where a plan says so; `couplings` poses vehicles on the track (`poses`),
`conductors` works out gauges, colours, lengths and drops again. `banks` asks whether a bank stays on and is
got at.
`through_ports` proves what does not go through what is left of a port;
`bundles`, `bends`, `pin_map`, `choice` and `findings` hold what is said against what is there,
`fit_rows` the fit table against its places and the room that boxes have (`clear_room`),
`origin` the train against its files.

Begin with `verify` below.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from fitplan.model.built import BuiltTrain
from fitplan.model.found import Outcome
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.verify.assembly import check_assembly, check_order
from fitplan.verify.banks import check_banks
from fitplan.verify.bends import check_bends
from fitplan.verify.built_in import check_built_in
from fitplan.verify.bundles import check_bundles
from fitplan.verify.buying import check_buying
from fitplan.verify.choice import check_choice
from fitplan.verify.conductors import check_conductors
from fitplan.verify.couplings import check_couplings
from fitplan.verify.detours import check_detours
from fitplan.verify.exchange import check_exchanges
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.findings import check_findings
from fitplan.verify.fit import check_fit
from fitplan.verify.fit_rows import check_fit_rows
from fitplan.verify.kept import check_kept
from fitplan.verify.leads import check_leads
from fitplan.verify.lifted import check_lifted
from fitplan.verify.lists import Lists, check_lists
from fitplan.verify.measure import can_be_measured, no_number_missing
from fitplan.verify.meter import check_meter
from fitplan.verify.mounts import check_mounts
from fitplan.verify.nets import check_counts, check_nets
from fitplan.verify.open_ends import check_open_ends
from fitplan.verify.openings import check_openings
from fitplan.verify.origin import check_origin
from fitplan.verify.pairs_inside import check_pairs_inside
from fitplan.verify.pin_map import check_pin_map
from fitplan.verify.resistors import check_resistors
from fitplan.verify.result import Checked, Problem, Report, Tally, Trusted
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.shelves import check_shelves
from fitplan.verify.switched_on import check_switched_on
from fitplan.verify.through_ports import check_through_ports
from fitplan.verify.wider_windows import check_wider_windows
from fitplan.verify.wires import check_wires
from fitplan.verify.work import check_work
from fitplan.verify.zones import check_zones

__all__ = ["Checked", "Problem", "Report", "Trusted", "verify"]


Rerun = Callable[[], Sequence[Outcome]]
"""Runs the checks of a plan again; they are no business of this room."""
_CANNOT = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
    StopIteration,
    RuntimeError,
)


def verify(
    plan: Plan,
    *,
    outcomes: Rerun | None = None,
    lists: Callable[[], Lists] | None = None,
    train: Train | None = None,
) -> Report:
    """Check a plan again in exact millimetres: room, mounts, wires, nets, counts, and ways in and out.

    A train that is planned only in part can hold: what has no place, no wire or no way in must then be owned
    up to in the plan itself. It is cheap (the demo takes half a second) and touches no file, so a plan can
    be checked before it is written.

    Parameters
    ----------
    outcomes
        Gives what the checks find when they are run again on what is built; without it findings are taken on
        trust.
    lists
        Makes the meter sequence and the buying list again; without it their limits and words are taken on
        trust.
    train
        The train as its files hold it now; without it, vehicles and parts are taken as the plan has them.
    """
    sheet = Tally()
    if not can_be_measured(plan, sheet):
        return sheet.report()
    built, findings = plan.built, plan.findings
    sites = sites_of(built)
    needs = {need.name: need for need in built.train.needs}
    check = _Guard(sheet)
    check("figures", no_number_missing, plan)
    check("places", _everything_placed, plan, sites)
    check("rebuilds", _rebuilds, built)
    check("openings", check_openings, built, sites)
    check("open ends", check_open_ends, built)
    for site in sites.values():
        check(site.name, check_fit, site)
        check(site.name, check_shelves, site)
        check(site.name, check_built_in, site, findings)
        check(site.name, check_mounts, site, needs)
    check("wires", check_wires, built, sites)
    check("zones", check_zones, built, sites)
    check("longer ways", check_detours, built, sites)
    check("conductors", check_conductors, built, findings)
    check("nets", check_nets, built)
    check("circuit", check_switched_on, built, findings)
    check("resistors", check_resistors, built)
    check("pin map", check_pin_map, built, findings)
    check("counts", check_counts, built, sites)
    check("bundles", check_bundles, built)
    check("ports", check_through_ports, built, sites)
    check("bends", check_bends, built)
    check("couplings", check_couplings, built)
    check("couplings", check_pairs_inside, built, sites)
    parts = tuple(entry.need for entry in built.placements)
    check("assembly", check_order, plan.assembly, plan.assembly_blocked, parts, tuple(sites))
    for site in sites.values():
        check(site.name, check_assembly, site, plan.assembly, plan.assembly_blocked)
    check("exchange", check_exchanges, built, sites, findings)
    check("exchange", check_lifted, built, findings)
    check("fastening", check_fastenings, built, sites, findings)
    check("leads", check_leads, built, sites, findings)
    check("banks", check_banks, built, sites, findings)
    check("meter", check_meter, plan)
    check("buying", check_buying, plan)
    check("wider windows", check_wider_windows, plan, sites)
    check("work", check_work, plan, sites)
    check("as built", check_kept, plan)
    check("lists", check_lists, plan, lists)
    check("choice", check_choice, plan)
    check("fit table", partial(check_fit_rows, sites=sites.values()), plan)
    check("findings", check_findings, plan, outcomes)
    check("files", check_origin, built.train, train)
    return sheet.report()


class _Guard:
    """Runs checks; one that a damaged plan brings to a halt is itself a problem, and the others still run."""

    def __init__(self, sheet: Tally) -> None:
        self._sheet = sheet

    def __call__(self, what: str, check: Callable[..., None], *args: object) -> None:
        try:
            check(*args, self._sheet)
        except _CANNOT as error:
            reason = f"{type(error).__name__}: {error}".split("\n")[0][:120]
            self._sheet.problem("measure", what, f"cannot be checked, so much is wrong with it ({reason})")


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
