"""The road of a plan: a train in, a plan out; each stage takes what the stage before it made.

::

    Train ─> choice of parts and vehicles ─> places and wires ─> what else would fit ─> checks ─> Plan
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache

from fitplan.budget import ENDS
from fitplan.checks import run_checks
from fitplan.kernels import reused_memory
from fitplan.model.as_built import NOTHING_BUILT
from fitplan.model.built import BuiltTrain
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow
from fitplan.model.train import Train
from fitplan.model.wider_window import WiderWindow
from fitplan.planning.choice import Choosing, decide
from fitplan.planning.choose_and_wire import choose_and_wire
from fitplan.planning.fit_table import fit_rows, with_placed
from fitplan.planning.kept import (
    NOTHING_RELEASED,
    Released,
    held_train,
    options_told,
    room_of_what_stays,
    told,
)
from fitplan.planning.kept_plan import plan_kept
from fitplan.planning.laid_loosely import ToBeOpened, nothing_to_be_opened, something_else_opened
from fitplan.planning.least_opening import OpeningSearch
from fitplan.planning.left_out import why_left_out
from fitplan.planning.opened import (
    MOST_OPENINGS,
    OpenedSo,
    OpenedTrain,
    blamed_for,
    first_opened,
    opened_at_ports,
    opened_before,
    opened_so,
    opened_train,
    openings,
)
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.run_state import PlanOptions as PlanOptions
from fitplan.planning.suitability import Suitability
from fitplan.planning.what_else import WhatElse, ask_rows, ask_what_else, is_asked_early
from fitplan.planning.wider_windows import wider_windows
from fitplan.planning.working_loops import with_working_loops
from fitplan.processes import Question, SecondProcess, begin, put
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.in_the_way import with_what_stands_in_the_way
from fitplan.workbench.as_built import rework_of
from fitplan.workbench.buying import buying_list
from fitplan.workbench.sequence import meter_plan

Progress = Callable[[str, float], None]
"""Told the name of the stage and the share of the work done, 0 to 1."""


def plan_train(
    train: Train,
    options: PlanOptions | None = None,
    progress: Progress | None = None,
    beside: SecondProcess | None = None,
) -> Plan:
    """Place every part, run every wire and check the result.

    A train that cannot be completed is planned as far as it goes; `Plan.complete` tells, and
    `Plan.unplaced` and `Plan.built.harness.unreached` say why.

    Parameters
    ----------
    progress
        Told how far the work has come.
    beside
        A process of its own: some vehicles are laid there, and then it is asked what else would fit.
    """
    options = options or PlanOptions()
    searching = replace(options, budget=options.budget.searching(len(train.needs)))
    tell = progress or (lambda stage, share: None)
    with reused_memory():
        if train.as_built == NOTHING_BUILT:
            return _planned(train, searching, tell, beside)
        return _with_what_stands(train, searching, tell, beside)


def _with_what_stands(
    train: Train, options: PlanOptions, tell: Progress, beside: SecondProcess | None
) -> Plan:
    """Plan a train of which something is built: that stays unless it must go."""
    there = opened_before(train)

    def planned(released: Released) -> Plan:
        if there is not None:
            open_train = opened_train(train, there.opening, told=False)
            plan = _planned(open_train, options, tell, beside, there, released)
            if plan.complete and not plan.assembly_blocked:
                return plan
        return _planned(train, options, tell, beside, None, released)

    return plan_kept(train, options, planned)


def _planned(
    train: Train,
    options: PlanOptions,
    tell: Progress,
    beside: SecondProcess | None,
    opened: OpenedTrain | None = None,
    released: Released = NOTHING_RELEASED,
    known: PlanningRun | None = None,
) -> Plan:
    """Plan a train, or what was opened of it.

    Parameters
    ----------
    opened
        What is open in the train already, and the train before: the plan tells it as a rebuild.
    released
        Of what is built, what need not stay.
    known
        A run of the train before it was opened.
    """
    budget = options.budget
    held = held_train(train, released)
    run = PlanningRun.of(held, options)
    if known is not None:
        run.learn_from(known)
    for vehicle, boxes in room_of_what_stays(held).items():
        run.packer.keep_for_wires(vehicle, boxes)

    # Nothing of it hangs on the choice: a second process has time for it now.
    early = beside is not None and is_asked_early(train)
    rows = begin(beside if early else None, ask_rows, PlanningRun.of(train, options))

    tell("choosing parts and places", 0.02)
    suitability = Suitability(run.train)
    choosing = _choose(run, suitability)

    tell("running wires", 0.35)
    aside = run.copy()
    free = None if held is train else PlanningRun.of(train, options)
    asked: list[Question[WhatElse]] = []

    def ask(taken: Choosing) -> Callable[[], None]:
        asking = taken.asking(aside.pack, aside.holds)
        asked.append(put(beside, ask_what_else, asking, aside, free, with_rows=not early))
        return asked[-1].send

    searches: list[OpeningSearch] = []

    def search_of(built: BuiltTrain, diameters: Mapping[str, float]) -> OpeningSearch:
        if not searches or not searches[-1].asks_the_same(built, diameters):
            searches.append(OpeningSearch(run, built, diameters))
        return searches[-1]

    def opened_likely(built: BuiltTrain, diameters: Mapping[str, float]) -> frozenset[str] | None:
        search = search_of(built, diameters)
        return first_opened(search.likely_at_home) if search.likely.refuted else None

    to_be_opened: ToBeOpened = opened_likely if train.may_open else nothing_to_be_opened
    if opened is not None:
        # What was opened for the homes of all parts is not meant for others: something else is opened then.
        to_be_opened = something_else_opened if opened.at_home else nothing_to_be_opened
    kept = choose_and_wire(run, suitability, choosing, ask, beside, to_be_opened)
    choosing, circuit, laid = kept.choosing, kept.circuit, kept.laid
    best = choosing.best
    least = None
    bricked = opened_at_ports(train, laid.built) if opened is None and train.may_open else None
    if bricked is not None and not laid.built.unreached and not run.over("better places"):
        tell(f"planning with {bricked.opening.words}", 0.4)
        open_train = opened_train(train, bricked.opening, told=False)
        plan = _planned(open_train, options, tell, beside, bricked, released, run)
        if plan.complete and not plan.assembly_blocked:
            return plan
    if opened is None and laid.built.unreached and not run.over("better places"):
        search = search_of(laid.built, laid.diameters)
        failed: set[OpenedSo] = set()
        blamed = {name for name, lost in laid.layout.troubles.items() if lost}
        proposed = openings(search, failed, blamed) if search.shut or train.may_open else ()
        for number, one in enumerate(proposed):
            there = one.opening
            least = least or (there if search.shut else None)
            if not train.may_open or number >= MOST_OPENINGS or run.over("better places"):
                break
            tell(f"planning with {there.words}", 0.4)
            before = OpenedTrain(train, there, one.at_home)
            open_train = opened_train(train, there, told=False)
            plan = _planned(open_train, options, tell, beside, before, released, run)
            # What finds no place may find none whatever is opened for wires.
            no_worse = len(plan.unplaced) <= len(best.left_out) and not plan.assembly_blocked
            if no_worse and not plan.unreached:
                return plan
            failed |= {opened_so(there, name) for name in blamed_for(plan.built)}
            least = least and replace(least, failed=number + 1)
    tell("comparing styles of wiring", 0.65)
    facts = wiring_facts(laid.built, laid.layout, budget)
    if budget.over("styles of wiring"):
        run.cut.add("styles of wiring")
    # What was opened in vain is not told, so nobody reads its reasons.
    built = laid.built if opened is not None else with_what_stands_in_the_way(laid.built, laid.diameters)
    built = replace(built, harness=replace(built.harness, facts=facts), opening=least)
    built = built if opened is None else opened.told(built)
    built = told(built, train)
    built, work = with_working_loops(built, laid.steps, run.filled, lambda: run.over("order of work"))

    @cache
    def others() -> WhatElse:
        tell("asking what else would fit", 0.8)
        found = asked[-1].result()
        fit = found if found.rows else rows()
        late = found.late or fit.late
        return WhatElse(options_told(found.options, train), with_placed(fit.rows, best.packings), late)

    tell("checking", 0.75)
    unplaced = tuple(
        (name, why_left_out(name, others().rows, aside, suitability, best.placements))
        for name in best.left_out
    )
    wider: tuple[WiderWindow, ...] = ()
    if best.left_out and not run.over("what else would fit"):
        wider = wider_windows(aside, best.left_out, best.placements)
    outcomes = run_checks(
        built, lambda: others().rows, circuit=circuit, unplaced=unplaced, wider_windows=wider
    )
    if others().late:
        run.cut.add("what else would fit")
    open_ = ["the best choice"] if choosing.late else []
    open_ += [stage for stage in ENDS if stage in run.cut | laid.layout.cut]
    made = Plan(
        built=built,
        verdict=choosing.verdict if opened is None else opened.verdict(choosing.verdict),
        fit=others().rows,
        assembly=work.assembly,
        assembly_blocked=laid.blocked,
        options=others().options if opened is None else opened.options(others().options),
        outcomes=outcomes,
        unplaced=unplaced,
        wider_windows=wider,
        seed=run.options.seed,
        # What is held was not compared with other choices.
        proved=choosing.proved and held is train,
        cut_short=tuple(open_),
    )
    buying = buying_list(built, made.outcomes)
    meter = meter_plan(built, circuit.supply, made.outcomes, made.complete)
    return replace(made, meter=meter, buying=buying, work=work.plan(meter), rework=rework_of(built))


def fit_table(
    train: Train, options: PlanOptions | None = None, progress: Progress | None = None
) -> tuple[FitRow, ...]:
    """Ask of every candidate of every need whether it fits into the vehicles that it may go into."""
    run = PlanningRun.of(train, options)
    return fit_rows(run.train, run.packer, run.options.budget, progress=progress, every=True)


def _choose(run: PlanningRun, suitability: Suitability) -> Choosing:
    """Choose parts and vehicles; the same run gives the same choice."""
    return decide(
        run.train,
        run.pack,
        suitability.why_not,
        holds=run.holds,
        added=run.added,
        budget=run.options.budget.share("choice"),
    )
