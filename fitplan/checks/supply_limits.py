"""What the parts of a supply stand by their own figures: sources, regulators, drivers, loads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

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


class Instead(Protocol):
    """Names parts that would do in the place of one that does not; empty where none is known to."""

    def cells(self) -> str:
        """Return cells in the place of those of the tree."""

    def regulator(self, link: Link) -> str:
        """Return a regulator in the place of that of a link."""

    def driver(self, link: Link) -> str:
        """Return a motor driver in the place of that of a link."""


def tree_limits(
    tree: SupplyTree,
    settings: SupplySettings,
    leads: dict[str, float] | None = None,
    better: str = "",
    instead: Instead | None = None,
) -> Iterator[Finding]:
    """Judge all that a supply tree is made of by its own figures: source, regulators, drivers.

    Parameters
    ----------
    leads
        Resistance in Ω of the leads to an owner and back, by owner.
    better
        A way to feed the train that passes.
    instead
        Who knows parts that would do in the place of those that do not.
    """
    yield from source_limits(tree, settings, instead)
    for link, volts in links_of(tree.root, nominal_volts(tree.source)):
        yield from regulator_limits(tree, link, volts, leads or {}, settings, better, instead)
    yield from driver_limits(tree, instead)


def source_limits(
    tree: SupplyTree, settings: SupplySettings, instead: Instead | None = None
) -> Iterator[Finding]:
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
            _other_cells(
                instead,
                "use a bank that gives more"
                if isinstance(figures, Bank)
                else "use larger cells, or cells made for higher currents",
            ),
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


def _other_cells(instead: Instead | None, else_do: str) -> str:
    """Return which cells of the catalogue would do; what helps in general where none is known to."""
    if instead is None:
        return else_do
    named = instead.cells()
    return f"use {named}" if named else f"{else_do}; with these loads none of the catalogue does"


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
    instead: Instead | None = None,
) -> Iterator[Finding]:
    """Judge a regulator: current, headroom, start; ``better`` is a way to feed the train that passes."""
    regulator = link.regulator
    if regulator is None:
        return
    where = f"regulator of {link.owner}" if link.kind == "controller" else link.owner
    if link.socket:
        where = f"USB socket of {link.owner}"
    if link.kind == "regulator" and link.part.figure(Controller) is not None:
        where = f"the {regulator.out_v:g} V pin of {link.owner}"
    first = label_v == nominal_volts(tree.source)
    peak = sum(fed.peak_ma for fed in link.below.everything())
    state = solve_state(source_of(tree.source), tree.root, 1.0, True, leads)
    limit = most_output(regulator, state.flow.inputs.get(link.owner, (label_v, 0.0))[0])
    controller = link.part.figure(Controller)
    # Where the cells cannot give the power at all, that is told of them.
    if peak > limit and not state.collapsed:
        yield Finding(
            SUBJECT,
            "stop",
            where,
            f"is asked for {peak:.0f} mA at peak and gives {limit:.0f} mA",
            round(peak, 1),
            round(limit, 1),
            "mA",
            _more_current(link, instead),
            PART,
        )
    elif controller is not None and link.kind == "controller":
        others = sum(fed.peak_ma for fed in link.below.everything() if fed.owner != link.owner)
        if others > controller.out_ma:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"its output pin is asked for {others:.0f} mA at peak and gives {controller.out_ma:.0f} mA",
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
        yield from _start(tree, link, where, instead)


def _more_current(link: Link, instead: Instead | None) -> str:
    """Return what gives more than a regulator that is asked for too much."""
    motors = [fed.owner for fed in link.below.everything() if fed.back]
    if motors:
        return f"feed {' and '.join(motors)} through the driver from the cells, not from {link.owner}"
    named = instead.regulator(link) if instead is not None else ""
    apart = "feed some of the loads by a regulator of their own"
    return f"use {named}, or {apart}" if named else apart


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
    lies = f"{abs(figure):.2f} V {side}" if abs(figure) >= 0.005 else "no higher than"
    return Finding(
        SUBJECT,
        severity,  # type: ignore[arg-type]
        where,
        f"with {state} cells its input lies {lies} its output at peak current",
        round(figure, 3),
        wanted,
        "V",
        "nothing to do" if severity == "note" else better or NO_WAY,
        PART
        if regulator.dropout_v
        else "a linear regulator wants at least 1 V more than it gives: common practice, no source",
    )


def _start(tree: SupplyTree, link: Link, where: str, instead: Instead | None) -> Iterator[Finding]:
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
                _other_cells(
                    instead,
                    "use cells of lower resistance or one more in series, or switch the loads on after it",
                ),
                PART,
            )
            return


def driver_limits(tree: SupplyTree, instead: Instead | None = None) -> Iterator[Finding]:
    """Check what flows through the channels of motor drivers to their motors."""
    seen: set[str] = set()
    for link, _ in links_of(tree.root, nominal_volts(tree.source)):
        driver = link.part.figure(MotorDriver)
        if driver is None or link.owner in seen:
            continue  # further channels hang below the first
        seen.add(link.owner)
        # Each rail behind a driver is one of its channels: motors side by side on it are added up.
        channels = [rail.fed for rail in link.below.walk() if rail.fed]
        average = max((sum(one.average_ma for one in fed) for fed in channels), default=0.0)
        peak = max((sum(one.peak_ma for one in fed) for fed in channels), default=0.0)
        for figure, limit, when in (
            (average, driver.continuous_ma, "in running"),
            (peak, driver.peak_ma, "when its motors start"),
        ):
            if figure > limit:
                named = instead.driver(link) if instead is not None else ""
                channel = "a channel of " if driver.channels > 1 else ""
                yield Finding(
                    SUBJECT,
                    "stop",
                    link.owner,
                    f"{channel}{link.owner} carries {figure:.0f} mA {when} and stands {limit:.0f} mA",
                    round(figure, 1),
                    limit,
                    "mA",
                    f"use a driver for at least {figure:.0f} mA{' a channel' if channel else ''}"
                    + (f": {named}" if named else ""),
                    PART,
                )
