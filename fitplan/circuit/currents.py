"""Which currents flow in every net, on average and at most; what wire gauges and fuses are chosen by.

The peak is that of everything at once: motor starts, radio bursts and emitter pulses do coincide now and
then, and a wire or a fuse that is too small for it is the dearer mistake.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitplan.circuit.joins import ends_of
from fitplan.circuit.supply import Link, Rail, Supply, SupplyTree, build_supply, full_volts, nominal_volts
from fitplan.model.electrical import CellPack, Regulator
from fitplan.model.part import Part
from fitplan.model.train import Net, Train

SIGNAL_MA = 1.0
"""Current that a signal net is reckoned with when nothing is fed through it: inputs draw less."""
SAGGED = 0.75
"""Share of the label's volts at which a step-up still runs: a sagged cell draws more (common practice)."""


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
    found = {net.name: NetCurrent(0.0, 0.0) for net in train.nets}
    for tree in supply.trees:
        _note_rail(tree.root, nominal_volts(tree.source), found)
    for net in train.nets:
        if net.role == "ground":
            found[net.name] = _ground(train, chosen, net.name, supply, found)
        elif found[net.name].peak_ma == 0:
            found[net.name] = _idle(train, chosen, net)
        if net.current_ma > 0:
            peak = max(net.current_ma, found[net.name].peak_ma if net.role != "signal" else 0.0)
            found[net.name] = NetCurrent(net.current_ma, peak)
    return found


def source_current(tree: SupplyTree) -> NetCurrent:
    """Return the current that a source gives at the volts on its label; peak with cells sagged."""
    return _note_rail(tree.root, nominal_volts(tree.source), {})


def _note_rail(rail: Rail, volts: float, found: dict[str, NetCurrent]) -> NetCurrent:
    """Enter the current of a rail and all below it; return what the rail draws."""
    average = sum(fed.average_ma for fed in rail.fed)
    peak = sum(fed.peak_ma for fed in rail.fed)
    for fed in rail.fed:
        if fed.signal:
            found[fed.signal] = NetCurrent(fed.average_ma, fed.peak_ma)
    for link in rail.links:
        drawn = _note_link(link, volts, found)
        average += drawn.average_ma
        peak += drawn.peak_ma
    if rail.net:
        found[rail.net] = NetCurrent(average, peak)
    return NetCurrent(average, peak)


def _note_link(link: Link, volts: float, found: dict[str, NetCurrent]) -> NetCurrent:
    regulator = link.regulator
    if regulator is None:
        return _note_rail(link.below, volts, found)
    below = _note_rail(link.below, regulator.out_v, found)
    return NetCurrent(
        regulator_input(regulator, volts, below.average_ma),
        max(regulator_input(regulator, SAGGED * volts, below.peak_ma), regulator.start_ma),
    )


def regulator_input(regulator: Regulator, volts: float, out_ma: float) -> float:
    """Return the current (mA) into a regulator at these input volts.

    A linear one passes its output current and adds its own; a switching one keeps the power:
    Vout·Iout/(η·Vin) (textbook).
    """
    if regulator.kind == "linear" or volts <= 0:
        return out_ma + regulator.quiescent_ma
    return regulator.out_v * out_ma / (regulator.efficiency * volts) + regulator.quiescent_ma


def _idle(train: Train, chosen: Mapping[str, Part], net: Net) -> NetCurrent:
    """Return what flows in a net that no source feeds by itself: a motor's lead, a signal."""
    motors = [end.built_in for end in ends_of(train, chosen, net) if end.built_in is not None]
    average = sum(motor.current_ma for motor in motors)
    peak = sum(max(motor.stall_ma, motor.current_ma) for motor in motors)
    if peak > 0:
        return NetCurrent(average, peak)
    return NetCurrent(SIGNAL_MA, SIGNAL_MA) if net.role == "signal" else NetCurrent(0.0, 0.0)


def _ground(
    train: Train, chosen: Mapping[str, Part], name: str, supply: Supply, found: Mapping[str, NetCurrent]
) -> NetCurrent:
    """Return what a ground net carries at most: all that its sources give, or all that its loads return."""
    net = next(entry for entry in train.nets if entry.name == name)
    owners = {end.owner for end in ends_of(train, chosen, net)}
    average = peak = 0.0
    for tree in supply.trees:
        if tree.owner in owners:
            given = source_current(tree)
        else:
            fed = [entry for entry in tree.root.everything() if entry.owner in owners]
            given = NetCurrent(sum(one.average_ma for one in fed), sum(one.peak_ma for one in fed))
        average, peak = average + given.average_ma, peak + given.peak_ma
    return NetCurrent(average, peak)


def short_circuit_ma(tree: SupplyTree) -> float:
    """Return the current (mA) of a fresh source that is shorted; a bank limits it itself."""
    if isinstance(tree.source, CellPack):
        return 1000 * full_volts(tree.source) / (tree.source.resistance_ohm * tree.source.cells)
    return tree.source.max_ma
