"""Supply: what arrives where over the whole discharge, for how long, and what gives up first."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.checks.better_parts import BetterParts
from fitplan.checks.board_loads import board_loads, loads_ahead
from fitplan.checks.coils import coil_findings
from fitplan.checks.ends import chosen_parts, circuit_of
from fitplan.checks.in_line import in_line_limits, left_on
from fitplan.checks.running_time import in_hours, is_primary, running_time, solved
from fitplan.checks.supply_limits import DEFAULTS, SUBJECT, SupplySettings, links_of, tree_limits
from fitplan.checks.supply_ways import SupplyWay, advised, usual_ways, ways_table
from fitplan.circuit.cells import source_of
from fitplan.circuit.chain import flow_through
from fitplan.circuit.currents import source_current
from fitplan.circuit.discharge import MOST_LEFT, Discharge, discharge
from fitplan.circuit.leads import lead_ohms
from fitplan.circuit.ratings import RAIL_V
from fitplan.circuit.supply_tree import Supply, SupplyTree, nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, Controller, Load
from fitplan.model.found import Curve, Finding, Outcome, Plot, Table
from fitplan.model.part import Part
from fitplan.model.proposed import FitRow
from fitplan.pins.train_circuit import TrainCircuit


def check_supply(
    built: BuiltTrain,
    fit: tuple[FitRow, ...] = (),
    settings: SupplySettings = DEFAULTS,
    circuit: TrainCircuit | None = None,
) -> Outcome:
    """Check every source of a train over its whole discharge.

    Parameters
    ----------
    fit
        Which part fits into which vehicle, for the comparison of the usual ways; may be left out.
    """
    chosen = chosen_parts(built)
    circuit = circuit_of(built, circuit)
    supply = circuit.supply
    hours = built.train.running.hours
    ways = _ways(built, chosen, supply)
    nowhere = _nowhere(fit)
    findings: list[Finding] = [*in_line_limits(built.train, chosen, circuit.currents, supply)]
    findings += coil_findings(SUBJECT, built, circuit.nodes)
    tables: list[Table] = []
    plots: list[Plot] = []
    rows: list[tuple[str | float, ...]] = []
    for tree in supply.trees:
        if not tree.root.everything() or any(tree.owner in unlike for unlike in supply.unlike):
            continue  # of unlike cells in series no figure holds: that they are is told among the nets
        nominal = nominal_volts(tree.source)
        leads = lead_ohms(built.train, built.harness, tree, flow_through(tree.root, nominal, True, {})[1])
        run = discharge(tree, leads)
        fits = ways if _feeds_a_board(tree, chosen) else ()
        way = advised(fits, hours, is_primary(tree), nowhere)
        better = f"use {' with '.join(part.name for part in way.parts)}: {in_hours(way.hours)}" if way else ""
        better = _past_its_regulator(tree) or better
        findings.append(running_time(tree, hours, leads, run, better))
        findings.extend(_wasted(tree, run, better))
        findings.extend(left_on(built.train, chosen, tree, _until_empty(tree, run)))
        instead = BetterParts(tree, built.train.catalogue, min(hours, run.hours), settings)
        findings.extend(tree_limits(tree, settings, leads, better, instead))
        rows.append(_row(tree, run))
        plots.append(_plot(tree, run, chosen))
    if rows:
        tables.append(
            Table(
                "Supply over the discharge",
                (
                    "source",
                    "part",
                    "hours",
                    "gives up first",
                    "mAh per hour",
                    "peak (mA)",
                    "charge left",
                    "cost per hour",
                ),
                tuple(rows),
                "peaks of everything at once; charge goes down with the averages",
            )
        )
    if ways:
        brain = next(part for part in chosen.values() if part.figure(Controller) is not None)
        figures = brain.figure(Controller)
        tables.append(ways_table(ways, hours, fit, figures.logic_v if figures is not None else 0.0))
    return Outcome(SUBJECT, tuple(findings), tuple(tables), tuple(plots))


def _ways(built: BuiltTrain, chosen: dict[str, Part], supply: Supply) -> tuple[SupplyWay, ...]:
    for name, part in chosen.items():
        if part.figure(Controller) is not None:
            loads, ahead = board_loads(supply.trees, name), loads_ahead(supply.trees, name)
            return usual_ways(built.train.catalogue, part, loads, ahead=ahead)
    return ()


def _past_its_regulator(tree: SupplyTree) -> str:
    """Return which pin of a board takes a bank's volts as they are, where it feeds the raw pin."""
    if not isinstance(tree.source, Bank):
        return ""
    for link, volts in links_of(tree.root, tree.source.out_v):
        raw = link.kind == "controller" and not link.socket
        if raw and link.regulator is not None and volts < link.regulator.out_v + link.regulator.dropout_v:
            pins = [pin for pin in link.part.pins if RAIL_V.get(pin.role) == volts]
            best = next((pin for pin in pins if pin.socket), pins[0] if pins else None)
            return f"join it to {link.owner}.{best.name} instead, which takes {volts:g} V" if best else ""
    return ""


def _feeds_a_board(tree: SupplyTree, chosen: dict[str, Part]) -> bool:
    """Return whether a source is the one that the usual ways stand for: it feeds the first controller."""
    board = next((name for name, part in chosen.items() if part.figure(Controller) is not None), "")
    return any(fed.owner == board for fed in tree.root.everything())


def _nowhere(fit: tuple[FitRow, ...]) -> frozenset[str]:
    """Return the ids of parts that are known to go into no vehicle."""
    asked = {row.part_id for row in fit}
    return frozenset(asked - {row.part_id for row in fit if row.verdict != "cannot fit"})


def _wasted(tree: SupplyTree, run: Discharge, better: str) -> Iterator[Finding]:
    """Tell a source that still holds most of its charge when the first thing gives up."""
    if run.failed is None or run.at_start or run.left <= MOST_LEFT:
        return
    yield Finding(
        SUBJECT,
        "caution",
        tree.owner,
        f"{100 * run.left:.0f} % of its charge is left when {run.failed.owner} gives up",
        round(100 * run.left, 1),
        100 * MOST_LEFT,
        "%",
        better or _emptied_by(tree),
        solved(tree),
    )


def _until_empty(tree: SupplyTree, run: Discharge) -> float:
    """Return the hours until a source is empty when it is left on: what gave up goes on drawing.

    At the rate of the time before; of one that fails with fresh cells, at the average by its label.
    """
    if run.hours > 0 and run.left < 1:
        return run.hours / (1 - run.left)
    average = source_current(tree).average_ma
    return source_of(tree.source).capacity_mah / average if average > 0 else math.inf


def _emptied_by(tree: SupplyTree) -> str:
    """Return what empties cells where no usual way of the catalogue does: a regulator, or smaller peaks."""
    kinds = {link.regulator.kind for link, _ in links_of(tree.root, 0.0) if link.regulator is not None}
    if kinds & {"step-up", "step-up-down"}:
        return "let the train draw less at its peaks, or use cells of lower resistance"
    return "use a regulator that makes its volts of the cells until they are empty"


def _row(tree: SupplyTree, run: Discharge) -> tuple[str | float, ...]:
    price = tree.part.price
    cost: str | float = "rechargeable"
    if is_primary(tree):
        cost = round(price / run.hours, 3) if price and 0 < run.hours < math.inf else "no price"
    return (
        tree.owner,
        tree.part.name,
        round(run.hours, 1) if run.hours < math.inf else "no load",
        f"{run.failed.owner}: {run.failed.reason}" if run.failed else "runs until empty",
        round(run.average_ma, 1),
        round(source_current(tree).peak_ma, 1),
        f"{100 * run.left:.0f} %",
        cost,
    )


def _plot(tree: SupplyTree, run: Discharge, chosen: dict[str, Part]) -> Plot:
    curves = [
        Curve(f"{tree.owner}, average load", run.times_h, run.terminal_v),
        Curve(f"{tree.owner}, everything at its peak", run.times_h, run.lowest_v),
    ]
    limits: list[tuple[str, float]] = []
    for fed in tree.root.everything():
        figures = chosen[fed.owner].figure(Controller) if fed.owner in chosen else None
        if figures is not None and len(run.arriving.get(fed.owner, ())) == len(run.times_h):
            curves.append(Curve(f"{fed.owner}, at its peak", run.times_h, run.arriving[fed.owner]))
            limits.append((f"{fed.owner} browns out", figures.brown_out_v))
        load = chosen[fed.owner].figure(Load) if fed.owner in chosen else None
        if load is not None and not fed.signal and ("loads need", load.min_v) not in limits:
            limits.append(("loads need", load.min_v))
    return Plot(
        f"Volts of {tree.owner} over the discharge", "time (h)", "volts (V)", tuple(curves), tuple(limits)
    )
