"""Supply: what arrives where over the whole discharge, for how long, and what gives up first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from fitplan.checks.ends import chosen_parts
from fitplan.checks.supply_ways import Way, board_loads, usual_ways, ways_table
from fitplan.circuit.cells import source_of
from fitplan.circuit.chain import flow_through
from fitplan.circuit.currents import source_current
from fitplan.circuit.discharge import Discharge, discharge, solve_state
from fitplan.circuit.leads import lead_ohms
from fitplan.circuit.supply import Link, Rail, Supply, SupplyTree, build_supply, full_volts, nominal_volts
from fitplan.model.electrical import Bank, CellPack, Controller, Load, MotorDriver
from fitplan.model.part import Part
from fitplan.model.plan import BuiltTrain, Curve, Finding, FitRow, Outcome, Plot, Table

SUBJECT = "supply"
OWN = "the part's own figures"
SOLVED = "discharge solved with the cells' curves; cells differ by some 15 %"


@dataclass(frozen=True)
class SupplySettings:
    """What is asked of a supply.

    Attributes
    ----------
    headroom_v
        A linear regulator wants this much more than it gives (common practice); its own dropout if greater.
    half
        State of charge at which cells count as sagged.
    compare_wh
        Energy of four alkaline AA, 4 × 1.5 V × 2.2 Ah, that a 9 V block is shown against.
    """

    headroom_v: float = 1.0
    half: float = 0.5
    compare_wh: float = 13.2


DEFAULTS = SupplySettings()


def check_supply(
    built: BuiltTrain, fit: tuple[FitRow, ...] = (), settings: SupplySettings = DEFAULTS
) -> Outcome:
    """Check every source of a train over its whole discharge.

    Parameters
    ----------
    fit
        Which part fits into which vehicle, for the comparison of the usual ways; may be left out.
    """
    chosen = chosen_parts(built)
    supply = build_supply(built.train, chosen)
    hours = built.train.running.hours
    ways = _ways(built, chosen, supply)
    findings = _unfed(supply)
    tables: list[Table] = []
    plots: list[Plot] = []
    rows: list[tuple[str | float, ...]] = []
    for tree in supply.trees:
        if not tree.root.everything():
            continue
        nominal = nominal_volts(tree.source)
        leads = lead_ohms(built.train, built.harness, tree, flow_through(tree.root, nominal, True, {})[1])
        run = discharge(tree, leads)
        findings.append(_running(tree, run, hours, ways))
        findings.extend(_source_limits(tree, settings))
        for link, volts in links_of(tree.root, nominal):
            findings.extend(_regulator(tree, link, volts, leads, settings))
        findings.extend(_loads_too_high(tree))
        findings.extend(_drivers(tree))
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


def _ways(built: BuiltTrain, chosen: dict[str, Part], supply: Supply) -> tuple[Way, ...]:
    for name, part in chosen.items():
        if part.figure(Controller) is not None:
            loads = board_loads(supply.trees, name)
            return usual_ways(built.train.catalogue, part, loads, built.train.running.hours)
    return ()


def _unfed(supply: Supply) -> list[Finding]:
    found = []
    if supply.unfed:
        found.append(
            Finding(
                SUBJECT,
                "stop",
                ", ".join(supply.unfed),
                f"nothing feeds {', '.join(supply.unfed)}",
                float(len(supply.unfed)),
                0.0,
                "parts",
                "join their supply pins to a net that a source or a regulator feeds",
                "the nets of the train",
            )
        )
    if supply.doubly_fed:
        found.append(
            Finding(
                SUBJECT,
                "stop",
                ", ".join(supply.doubly_fed),
                f"more than one source feeds {', '.join(supply.doubly_fed)}: they would push current into "
                "each other",
                float(len(supply.doubly_fed)),
                0.0,
                "nets",
                "split the net, or put a switch between the sources",
                "common practice, no source",
            )
        )
    return found


def _running(tree: SupplyTree, run: Discharge, hours: float, ways: tuple[Way, ...]) -> Finding:
    failed = run.failed
    ending = f"then {failed.owner} {failed.reason} ({failed.figure:.2f} V)" if failed else "then it is empty"
    if run.at_start and failed is not None:
        return Finding(
            SUBJECT,
            "stop",
            tree.owner,
            f"with fresh cells {failed.owner} already {failed.reason} at peak current",
            round(failed.figure, 3),
            round(failed.limit, 3),
            failed.unit,
            _better(ways, hours) or "use more cells in series, or a step-up regulator",
            SOLVED,
        )
    short = run.hours < hours
    needed = _capacity(tree) * hours / run.hours if run.hours > 0 else 0.0
    return Finding(
        SUBJECT,
        "stop" if short else "note",
        tree.owner,
        f"runs for {_hours(run.hours)}, {ending}; {run.average_ma:.0f} mAh per running hour",
        round(run.hours, 2) if run.hours < math.inf else 9999.0,
        hours,
        "h",
        (_better(ways, hours) or f"use cells of at least {needed:.0f} mAh, or take fresh ones along")
        if short
        else "nothing to do; have fresh or charged cells ready by then",
        SOLVED,
    )


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours < math.inf else "as long as the cells keep"


def _capacity(tree: SupplyTree) -> float:
    return tree.source.capacity_mah


def _better(ways: tuple[Way, ...], hours: float) -> str:
    """Return the smallest of the usual ways that lasts, as advice; empty when there is none."""
    lasting = [way for way in ways if way.hours >= hours and "may switch" not in way.name]
    if not lasting:
        return ""
    best = min(lasting, key=lambda way: way.volume)
    return f"use {' with '.join(part.name for part in best.parts)}: {_hours(best.hours)}"


def _source_limits(tree: SupplyTree, settings: SupplySettings) -> Iterator[Finding]:
    drawn = source_current(tree)
    figures = tree.source
    if drawn.peak_ma > figures.max_ma:
        yield Finding(
            SUBJECT,
            "stop",
            tree.owner,
            f"peaks of {drawn.peak_ma:.0f} mA are more than {tree.owner} may give",
            round(drawn.peak_ma, 1),
            figures.max_ma,
            "mA",
            "use larger cells, or cells made for higher currents",
            OWN,
        )
    if isinstance(figures, Bank) and drawn.average_ma < figures.off_below_ma:
        yield Finding(
            SUBJECT,
            "caution",
            tree.owner,
            f"the bank may switch itself off: the train draws {drawn.average_ma:.0f} mA on average",
            round(drawn.average_ma, 1),
            figures.off_below_ma,
            "mA",
            f"add a steady load of {figures.off_below_ma - drawn.average_ma:.0f} mA, such as a lamp, or use "
            "a bank that stays on",
            "banks switch off after 12 to 60 s below about 60 mA: common practice, no standard",
        )
    if isinstance(figures, CellPack) and figures.cells_per_unit >= 6:
        energy = nominal_volts(figures) * figures.capacity_mah / 1000
        yield Finding(
            SUBJECT,
            "caution",
            tree.owner,
            f"a 9 V block holds {energy:.1f} Wh and has {figures.resistance_ohm * figures.cells:.1f} Ω "
            f"inside; four alkaline AA hold {settings.compare_wh:.1f} Wh",
            round(energy, 2),
            settings.compare_wh,
            "Wh",
            "use four AA at the raw pin, or two cells with a step-up",
            "service output of LR6 and 6LR61, makers' sheets; from memory for the block",
        )


def links_of(rail: Rail, volts: float) -> Iterator[tuple[Link, float]]:
    """Yield every link with the label volts at its input."""
    for link in rail.links:
        yield link, volts
        below = link.regulator.out_v if link.regulator is not None else volts
        yield from links_of(link.below, below)


def _regulator(
    tree: SupplyTree, link: Link, label_v: float, leads: dict[str, float], settings: SupplySettings
) -> Iterator[Finding]:
    regulator = link.regulator
    if regulator is None:
        return
    where = f"regulator of {link.owner}" if link.kind == "controller" else link.owner
    first = label_v == nominal_volts(tree.source)
    most = full_volts(tree.source) if first else label_v
    if most > regulator.in_max_v:
        yield Finding(
            SUBJECT,
            "stop",
            where,
            f"fresh cells give {most:.1f} V, more than its input stands",
            round(most, 2),
            regulator.in_max_v,
            "V",
            "use fewer cells in series, or a step-down regulator in between",
            OWN,
        )
    peak = sum(fed.peak_ma for fed in link.below.everything())
    limit = regulator.max_ma
    controller = link.part.figure(Controller)
    if peak > limit:
        yield Finding(
            SUBJECT,
            "stop",
            where,
            f"is asked for {peak:.0f} mA at peak",
            round(peak, 1),
            limit,
            "mA",
            "feed some of the loads by a regulator of their own",
            OWN,
        )
    elif controller is not None and link.kind == "controller":
        others = sum(fed.peak_ma for fed in link.below.everything() if fed.owner != link.owner)
        if others > controller.out_ma:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"its output pin is asked for {others:.0f} mA at peak",
                round(others, 1),
                controller.out_ma,
                "mA",
                "feed some of the loads by a regulator of their own",
                OWN,
            )
    if not first:
        return
    if regulator.kind == "linear":
        yield _headroom(tree, link, where, leads, settings)
    elif regulator.start_v > 0:
        yield from _start(tree, link, where)


def _headroom(
    tree: SupplyTree, link: Link, where: str, leads: dict[str, float], settings: SupplySettings
) -> Finding:
    regulator = link.regulator
    assert regulator is not None
    wanted = max(settings.headroom_v, regulator.dropout_v)
    source = source_of(tree.source)
    fresh, sagged = (solve_state(source, tree.root, charge, True, leads) for charge in (1.0, settings.half))
    over_fresh = fresh.flow.inputs.get(link.owner, (0.0, 0.0))[0] - regulator.out_v
    over = sagged.flow.inputs.get(link.owner, (0.0, 0.0))[0] - regulator.out_v
    severity = "stop" if over_fresh < wanted else "caution" if over < wanted else "note"
    state = "fresh" if severity == "stop" else "half empty"
    figure = over_fresh if severity == "stop" else over
    return Finding(
        SUBJECT,
        severity,  # type: ignore[arg-type]
        where,
        f"with {state} cells its input lies {figure:.2f} V above its output at peak current",
        round(figure, 3),
        wanted,
        "V",
        "nothing to do"
        if severity == "note"
        else "use one or two cells more, or fewer cells with a step-up regulator at the 5 V pin",
        "a linear regulator wants at least 1 V more than it gives: common practice, no source",
    )


def _start(tree: SupplyTree, link: Link, where: str) -> Iterator[Finding]:
    regulator = link.regulator
    assert regulator is not None
    source = source_of(tree.source)
    for charge, severity, state in ((1.0, "stop", "fresh"), (0.2, "caution", "nearly empty")):
        volts = source.open_volts(charge) - source.resistance(charge) * regulator.start_ma / 1000
        if volts < regulator.start_v:
            yield Finding(
                SUBJECT,
                severity,  # type: ignore[arg-type]
                where,
                f"{state} cells give {volts:.2f} V under the current that it draws to start",
                round(volts, 3),
                regulator.start_v,
                "V",
                "use cells of lower resistance or one more in series, or switch the loads on after it",
                OWN,
            )
            return


def _drivers(tree: SupplyTree) -> Iterator[Finding]:
    """Check what flows through motor drivers to their motors."""
    for link, _ in links_of(tree.root, nominal_volts(tree.source)):
        driver = link.part.figure(MotorDriver)
        if driver is None:
            continue
        motors = link.below.everything()
        average, peak = sum(one.average_ma for one in motors), sum(one.peak_ma for one in motors)
        for figure, each, when in (
            (average, driver.continuous_ma, "in running"),
            (peak, driver.peak_ma, "when its motors start"),
        ):
            limit = each * driver.channels
            if figure > limit:
                yield Finding(
                    SUBJECT,
                    "stop",
                    link.owner,
                    f"{link.owner} carries {figure:.0f} mA {when}",
                    round(figure, 1),
                    limit,
                    "mA",
                    f"use a driver for at least {figure:.0f} mA",
                    OWN,
                )


def _loads_too_high(tree: SupplyTree) -> Iterator[Finding]:
    def walk(rail: Rail, most: float) -> Iterator[Finding]:
        for fed in rail.fed:
            if fed.max_v and most > fed.max_v and not fed.signal:
                yield Finding(
                    SUBJECT,
                    "stop",
                    fed.owner,
                    f"gets up to {most:.1f} V, more than it stands",
                    round(most, 2),
                    fed.max_v,
                    "V",
                    "feed it from a regulated rail",
                    OWN,
                )
        for link in rail.links:
            regulator = link.regulator
            below = most if regulator is None else min(most, regulator.out_v)
            if regulator is not None and regulator.kind != "linear" and regulator.kind != "step-down":
                below = regulator.out_v
            yield from walk(link.below, below)

    yield from walk(tree.root, full_volts(tree.source))


def _row(tree: SupplyTree, run: Discharge) -> tuple[str | float, ...]:
    price = tree.part.price
    primary = isinstance(tree.source, CellPack) and tree.source.chemistry == "alkaline"
    cost: str | float = "rechargeable"
    if primary:
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
