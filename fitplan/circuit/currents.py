"""Which currents flow in every net, on average and at most; what wire gauges and fuses are chosen by.

The peak is that of everything at once: motor starts, radio bursts and emitter pulses do coincide now and
then, and a wire or a fuse that is too small for it is the dearer mistake.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

from fitplan.circuit.chain import input_current
from fitplan.circuit.draws import Drawn, end_currents, tree_draws
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Link, Rail, Supply, SupplyTree, full_volts, nominal_volts
from fitplan.model.electrical import CellPack, Regulator
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import Train

SIGNAL_MA = 1.0
"""Current that a signal net is reckoned with when nothing is fed through it: inputs draw less."""
SAGGED = 0.75
"""Share of the label's volts at which a step-up still runs: a sagged cell draws more (common practice)."""

LEAST_SHARE = 0.45
"""Share of the label's volts below which nothing is left in a cell: 0.7 V of 1.5 V (common practice)."""


@dataclass(frozen=True)
class NetCurrent:
    """Current in the busiest stretch of a net in mA."""

    average_ma: float
    peak_ma: float


def net_currents(
    train: Train, chosen: Mapping[str, Part], supply: Supply | None = None
) -> dict[str, NetCurrent]:
    """Return the current of every net, by name; the user's own figure where one is given.

    Parameters
    ----------
    chosen
        The part chosen for each need; a need that is missing takes its first candidate.
    supply
        The train's supply trees, where they are known already.
    """
    supply = supply or build_supply(train, chosen)
    ends = {
        peak: end_currents(train, chosen, supply, partial(by_label, peak=peak), peak)
        for peak in (False, True)
    }
    found: dict[str, NetCurrent] = {}
    for net in train.nets:
        average, peak = (
            max((abs(current) for (name, _), current in ends[when].items() if name == net.name), default=0.0)
            for when in (False, True)
        )
        found[net.name] = NetCurrent(average, peak) if peak > 1e-9 else _idle(train, chosen, net)
        if net.current_ma > 0:
            most = max(net.current_ma, found[net.name].peak_ma if net.role != "signal" else 0.0)
            found[net.name] = NetCurrent(net.current_ma, most)
    return found


def source_current(tree: SupplyTree) -> NetCurrent:
    """Return the current that a source gives at the volts on its label; peak with cells sagged."""
    average, peak = (
        sum(tree_draws(tree, by_label(tree, when), when)[-1].draws.values()) for when in (False, True)
    )
    return NetCurrent(average, peak)


def idle_current(tree: SupplyTree) -> float:
    """Return the least current (mA) that a source gives: without what draws at times only."""

    def still(rail: Rail) -> Rail:
        fed = tuple(replace(one, average_ma=0.0) if one.at_times else one for one in rail.fed)
        return replace(
            rail, fed=fed, links=tuple(replace(link, below=still(link.below)) for link in rail.links)
        )

    return source_current(replace(tree, root=still(tree.root))).average_ma


def running_peak(tree: SupplyTree) -> float:
    """Return the most (mA) that a source gives in running: at the peak of its loads, its cells all but empty.

    A switching regulator draws most at its least input volts, though no more than its switch lets pass. What
    flows while it starts is over in milliseconds and is left out.
    """

    def drawn(link: Link, below: float) -> float:
        regulator = link.regulator
        if regulator is None:
            return below
        if regulator.kind == "linear":
            return regulator_input(regulator, regulator.in_max_v, below)
        volts = max(regulator.in_min_v, LEAST_SHARE * nominal_volts(tree.source))
        current = regulator_input(regulator, volts, below)
        return min(current, regulator.in_max_ma) if regulator.in_max_ma else current

    return sum(tree_draws(tree, drawn, True)[-1].draws.values())


def by_label(tree: SupplyTree, peak: bool) -> Drawn:
    """Return what links draw at the volts on the source's label; at its peak a step-up from sagged cells."""
    volts: dict[int, float] = {}

    def note(rail: Rail, at: float) -> None:
        for link in rail.links:
            volts[id(link)] = at
            note(link.below, link.regulator.out_v if link.regulator is not None else at)

    note(tree.root, nominal_volts(tree.source))

    def drawn(link: Link, below: float) -> float:
        if link.regulator is None:
            return below
        if not peak:
            return regulator_input(link.regulator, volts[id(link)], below)
        return max(regulator_input(link.regulator, SAGGED * volts[id(link)], below), link.regulator.start_ma)

    return drawn


def regulator_input(regulator: Regulator, volts: float, out_ma: float) -> float:
    """Return the current (mA) into a regulator at these input volts.

    `chain.input_current` at the volts that it is made to give.
    """
    return input_current(regulator, volts, regulator.out_v, out_ma)


def _idle(train: Train, chosen: Mapping[str, Part], net: Net) -> NetCurrent:
    """Return what flows in a net that no source feeds by itself: a motor's lead, a signal."""
    motors = [end.built_in for end in ends_of(train, chosen, net) if end.built_in is not None]
    average = sum(motor.current_ma for motor in motors)
    peak = sum(max(motor.stall_ma, motor.current_ma) for motor in motors)
    if peak > 0:
        return NetCurrent(average, peak)
    return NetCurrent(SIGNAL_MA, SIGNAL_MA) if net.role == "signal" else NetCurrent(0.0, 0.0)


def short_circuit_ma(tree: SupplyTree) -> float:
    """Return the current (mA) of a fresh source that is shorted; a bank limits it itself."""
    if isinstance(tree.source, CellPack):
        return 1000 * full_volts(tree.source) / (tree.source.resistance_ohm * tree.source.cells)
    return tree.source.max_ma
