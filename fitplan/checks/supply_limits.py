"""What the parts of a supply stand by their own figures: sources, regulators, drivers, loads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fitplan.checks.sources import PART
from fitplan.circuit.cells import source_of
from fitplan.circuit.chain import most_output
from fitplan.circuit.currents import idle_current, source_current
from fitplan.circuit.discharge import solve_state
from fitplan.circuit.supply_tree import Link, Rail, SupplyTree, nominal_volts
from fitplan.model.buying import Asked
from fitplan.model.electrical import Bank, CellPack, Controller, MotorDriver
from fitplan.model.found import Finding

SUBJECT = "supply"
NO_WAY = "no usual way with parts of the catalogue passes: draw less, or use cells of lower resistance"


@dataclass(frozen=True)
class SupplySettings:
    """What is asked of a supply.

    Attributes
    ----------
    headroom_v
        A linear regulator that states no dropout wants this much more than it gives (common practice).
    half
        State of charge at which cells count as sagged.
    compare_wh
        Energy of four alkaline AA, 4 × 1.5 V × 2.2 Ah, that a 9 V block is shown against.
    """

    headroom_v: float = 1.0
    half: float = 0.5
    compare_wh: float = 13.2


DEFAULTS = SupplySettings()


def source_limits(tree: SupplyTree, settings: SupplySettings) -> Iterator[Finding]:
    """Judge a source by its own figures: current, least load, what it holds."""
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
            PART,
        )
    if isinstance(figures, Bank):
        yield _stays_on(tree, figures, drawn.average_ma)
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
            "use two AA with a step-up, or four with a step-up/down regulator: they are emptied",
            "service output of LR6 and 6LR61, makers' sheets; from memory for the block",
        )


def _stays_on(tree: SupplyTree, figures: Bank, average_ma: float) -> Finding:
    """Say whether a bank is kept awake: on average, and by what is never switched off."""
    least, wanted = min(idle_current(tree), average_ma), figures.off_below_ma
    short = f"steady load of {wanted - least:.0f} mA, such as a lamp"
    source = "banks switch off after 12 to 60 s below about 60 mA: common practice, no standard"
    if least >= wanted:
        text = f"the bank stays on: {least:.0f} mA flow at the least, with all off that draws at times only"
        return Finding(
            SUBJECT, "note", tree.owner, text, round(least, 1), wanted, "mA", "nothing to do", source
        )
    when = (
        f"the train draws {average_ma:.0f} mA on average"
        if average_ma < wanted
        else f"{least:.0f} mA flow when all is off that draws at times only"
    )
    return Finding(
        SUBJECT,
        "caution",
        tree.owner,
        f"the bank may switch itself off: {when}",
        round(least, 1),
        wanted,
        "mA",
        f"add a {short}, or use a bank that stays on",
        source,
        add=(Asked(short),),
    )


def links_of(rail: Rail, volts: float) -> Iterator[tuple[Link, float]]:
    """Yield every link with the label volts at its input."""
    for link in rail.links:
        yield link, volts
        below = link.regulator.out_v if link.regulator is not None else volts
        yield from links_of(link.below, below)


def regulator_limits(
    tree: SupplyTree,
    link: Link,
    label_v: float,
    leads: dict[str, float],
    settings: SupplySettings,
    better: str = "",
) -> Iterator[Finding]:
    """Judge a regulator: current, headroom, start; ``better`` is a way to feed the train that passes."""
    regulator = link.regulator
    if regulator is None:
        return
    where = f"regulator of {link.owner}" if link.kind == "controller" else link.owner
    if link.kind == "regulator" and link.part.figure(Controller) is not None:
        where = f"the {regulator.out_v:g} V pin of {link.owner}"
    first = label_v == nominal_volts(tree.source)
    peak = sum(fed.peak_ma for fed in link.below.everything())
    state = solve_state(source_of(tree.source), tree.root, 1.0, True, leads)
    limit = most_output(regulator, state.flow.inputs.get(link.owner, (label_v, 0.0))[0])
    controller = link.part.figure(Controller)
    if peak > limit:
        yield Finding(
            SUBJECT,
            "stop",
            where,
            f"is asked for {peak:.0f} mA at peak",
            round(peak, 1),
            round(limit, 1),
            "mA",
            "feed some of the loads by a regulator of their own",
            PART,
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
                PART,
            )
    if link.socket:
        return  # a diode keeps nothing steady: told among the leads
    if regulator.kind == "linear":
        told = _headroom(tree, link, where, leads, settings, better)
        # Behind another regulator it has the same volts all the time: only too few of them are worth a word.
        if first or told.severity != "note":
            yield told
    elif first and regulator.start_v > 0:
        yield from _start(tree, link, where)


def _headroom(
    tree: SupplyTree, link: Link, where: str, leads: dict[str, float], settings: SupplySettings, better: str
) -> Finding:
    regulator = link.regulator
    assert regulator is not None
    wanted = regulator.dropout_v or settings.headroom_v
    source = source_of(tree.source)
    fresh, sagged = (solve_state(source, tree.root, charge, True, leads) for charge in (1.0, settings.half))
    over_fresh = fresh.flow.inputs.get(link.owner, (0.0, 0.0))[0] - regulator.out_v
    over = sagged.flow.inputs.get(link.owner, (0.0, 0.0))[0] - regulator.out_v
    severity = "stop" if over_fresh < wanted else "caution" if over < wanted else "note"
    state = "fresh" if severity == "stop" else "half empty"
    figure = over_fresh if severity == "stop" else over
    side = "above" if figure >= 0 else "below"
    return Finding(
        SUBJECT,
        severity,  # type: ignore[arg-type]
        where,
        f"with {state} cells its input lies {abs(figure):.2f} V {side} its output at peak current",
        round(figure, 3),
        wanted,
        "V",
        "nothing to do" if severity == "note" else better or NO_WAY,
        PART
        if regulator.dropout_v
        else "a linear regulator wants at least 1 V more than it gives: common practice, no source",
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
                PART,
            )
            return


def driver_limits(tree: SupplyTree) -> Iterator[Finding]:
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
                    PART,
                )
