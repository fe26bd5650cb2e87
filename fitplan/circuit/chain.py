"""What arrives where: volts and currents in a supply tree for given volts at its source.

Loads draw their current whatever the volts.  A linear regulator holds its output until its input is too
near it, then follows below by its dropout; a switching one keeps the power and gives up below its least
input volts.  Leads between parts cost ``I·R``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from fitplan.circuit.supply_tree import Link, Rail, RailLoad
from fitplan.model.electrical import Fuse, Regulator

_SWEEPS = 120
_CLOSE_V = 1e-10


@dataclass(frozen=True)
class Undersupplied:
    """Something that does not get what it needs: volts or current (``unit``) against its limit."""

    owner: str
    reason: str
    figure: float
    limit: float
    unit: str


@dataclass
class Flow:
    """What one evaluation of a tree finds; powers in mW.

    ``volts`` holds the volts that arrive at every owner: at a load's supply pin, at a link's input.
    """

    volts: dict[str, float] = field(default_factory=dict)
    weak: list[Undersupplied] = field(default_factory=list)
    outputs: dict[str, tuple[float, float]] = field(default_factory=dict)
    """(volts, mA) at the output of every regulator."""
    inputs: dict[str, tuple[float, float]] = field(default_factory=dict)
    """(volts, mA) at its input."""
    load_mw: float = 0.0
    regulator_mw: float = 0.0
    lead_mw: float = 0.0


@dataclass
class _Sweep:
    """One walk over a tree: currents from below upwards at the volts that the walk before found.

    ``arrived`` holds the volts at the input of each link; ``change`` is the most that one of them moved.
    """

    peak: bool
    leads: Mapping[str, float]
    arrived: dict[int, float]
    flow: Flow = field(default_factory=Flow)
    change: float = 0.0


def flow_through(
    rail: Rail,
    volts: float,
    peak: bool,
    leads: Mapping[str, float],
    sagged: Mapping[int, float] | None = None,
) -> tuple[float, Flow]:
    """Return the current (mA) that a tree draws at these volts, and what arrives where.

    The inputs of links sag by their leads, which depends on what they draw: the tree is walked until they
    stand still, all of them together.

    Parameters
    ----------
    peak
        Everything draws its peak at once; otherwise averages.
    leads
        Resistance in Ω of the leads to an owner and back, by owner.
    sagged
        `Draw.sagged` at these volts, where that is known: the tree stands still then.
    """
    arrived = dict(sagged or {})
    for _ in range(_SWEEPS if sagged is None else 1):
        sweep = _Sweep(peak, leads, arrived)
        current = _rail(rail, volts, sweep)
        if sweep.change < _CLOSE_V:
            break
    return current, sweep.flow


class Draw:
    """The current (mA) that a tree draws as a function of its volts, as `flow_through` finds it.

    It is worked out without noting what arrives where, in the same steps and to the same last digit.
    """

    def __init__(self, rail: Rail, peak: bool, leads: Mapping[str, float]) -> None:
        self._sags = _Sags()
        self._draw = _draw(rail, peak, leads, self._sags)
        self._before: list[float] = []

    def __call__(self, volts: float) -> float:
        """Return the current at these volts."""
        self.begin()
        current = 0.0
        for _ in range(_SWEEPS):
            current = self.sweep(volts)
            if self.stands_still:
                break
        return current

    def begin(self) -> None:
        """Forget what arrived where: nothing has sagged yet."""
        arrived = self._sags.arrived
        arrived[:] = [math.inf] * len(arrived)

    def sweep(self, volts: float) -> float:
        """Return the current at these volts as the tree has sagged so far, and let it sag on."""
        sags = self._sags
        sags.change = 0.0
        self._before = sags.arrived[:]
        return self._draw(volts)

    @property
    def stands_still(self) -> bool:
        """Whether nothing has sagged any further in the last sweep."""
        return self._sags.change < _CLOSE_V

    @property
    def sagged(self) -> dict[int, float]:
        """Volts at the inputs of links, by ``id``, before the last sweep at the volts asked for last."""
        return dict(zip(self._sags.links, self._before, strict=True))


@dataclass
class _Sags:
    """Volts at the inputs of links that sag, as the sweep before found them, and the most that one moved."""

    links: list[int] = field(default_factory=list)
    arrived: list[float] = field(default_factory=list)
    change: float = 0.0


def _draw(
    rail: Rail, peak: bool, leads: Mapping[str, float], sags: _Sags, inside: str = ""
) -> Callable[[float], float]:
    """Return the current into a rail as a function of its volts, for one sweep; see `_rail`."""
    own = 0.0
    for fed in rail.fed:
        own += fed.peak_ma if peak else fed.average_ma
    near = {inside, *(fed.owner for fed in rail.fed)}
    behind = []
    for link in rail.links:
        ohm = (0.0 if link.owner in near else leads.get(link.owner, 0.0)) + _fuse_ohm(link)
        if link.regulator is None:
            into = _draw(link.below, peak, leads, sags, link.owner)
        else:
            within = link.owner if link.kind == "controller" else ""
            into = _regulated(link.regulator, _draw(link.below, peak, leads, sags, within))
        behind.append(_sagging(link, into, ohm, sags) if ohm > 0 else into)
    if not behind:
        return lambda volts: own
    if len(behind) == 1 and not rail.fed:
        return behind[0]

    def total(volts: float) -> float:
        current = own
        for one in behind:
            current += one(volts)
        return current

    return total


def _sagging(
    link: Link, below: Callable[[float], float], ohm: float, sags: _Sags
) -> Callable[[float], float]:
    """Return the current into a link behind some resistance; see `_link`."""
    arrived, number = sags.arrived, len(sags.arrived)
    sags.links.append(id(link))
    arrived.append(math.inf)

    # Walked a hundred thousand times in a plan: comparisons, as calls of `max` and `abs` take twice as long.
    def into(volts: float) -> float:
        arrives = arrived[number]
        if volts < arrives:
            arrives = volts
        current = below(arrives)
        settled = volts - current * ohm / 1000
        if settled < 0.0:
            settled = 0.0
        moved = settled - arrives if settled > arrives else arrives - settled
        if moved > sags.change:
            sags.change = moved
        arrived[number] = settled
        return current

    return into


def _regulated(regulator: Regulator, below: Callable[[float], float]) -> Callable[[float], float]:
    """Return the current into a regulator as a function of its input volts."""

    def into(volts: float) -> float:
        out_v = regulated_volts(regulator, volts)
        return input_current(regulator, volts, out_v, below(out_v))

    return into


def _fuse_ohm(link: Link) -> float:
    fuse = link.part.figure(Fuse) if link.kind == "through" else None
    return fuse.resistance_ohm if fuse is not None else 0.0


def _rail(rail: Rail, volts: float, sweep: _Sweep, inside: str = "") -> float:
    """Return what a rail draws; ``inside`` is the board that it lies in, whose own leads are behind it."""
    total = 0.0
    leads = sweep.leads
    for fed in rail.fed:
        current = fed.peak_ma if sweep.peak else fed.average_ma
        _feed(fed, volts, current, 0.0 if fed.owner == inside else leads.get(fed.owner, 0.0), sweep.flow)
        total += current
    near = {inside, *(fed.owner for fed in rail.fed)}
    for link in rail.links:
        ohm = 0.0 if link.owner in near else leads.get(link.owner, 0.0)
        total += _link(link, volts, sweep, ohm)
    return total


def _feed(fed: RailLoad, volts: float, current: float, ohm: float, flow: Flow) -> None:
    arrives = volts - current * ohm / 1000
    flow.volts[fed.owner] = arrives
    flow.lead_mw += (volts - arrives) * current
    flow.load_mw += arrives * current
    if arrives < fed.min_v:
        flow.weak.append(Undersupplied(fed.owner, "gets too few volts", arrives, fed.min_v, "V"))


def _link(link: Link, volts: float, sweep: _Sweep, lead_ohm: float) -> float:
    """Return what a link draws at the volts that reach it."""
    ohm = lead_ohm + _fuse_ohm(link)
    arrives = min(sweep.arrived.get(id(link), volts), volts) if ohm > 0 else volts
    current = _below(link, arrives, sweep)
    if ohm > 0:
        settled = max(volts - current * ohm / 1000, 0.0)
        sweep.change = max(sweep.change, abs(settled - arrives))
        sweep.arrived[id(link)] = settled
    sweep.flow.lead_mw += (volts - arrives) * current
    sweep.flow.volts.setdefault(link.owner, arrives)
    return current


def _below(link: Link, volts: float, sweep: _Sweep) -> float:
    regulator = link.regulator
    if regulator is None:
        return _rail(link.below, volts, sweep, link.owner)
    flow = sweep.flow
    out_v = regulated_volts(regulator, volts)
    # Beyond a board's regulator its rails lie on the board; beyond a part of its own, leads begin anew.
    inside = link.owner if link.kind == "controller" else ""
    out_ma = _rail(link.below, out_v, sweep, inside)
    in_ma = input_current(regulator, volts, out_v, out_ma)
    flow.inputs[link.owner] = (volts, in_ma)
    flow.outputs[link.owner] = (out_v, out_ma)
    flow.regulator_mw += volts * in_ma - out_v * out_ma
    if regulator.kind != "linear" and volts < regulator.in_min_v:
        flow.weak.append(Undersupplied(link.owner, "stops regulating", volts, regulator.in_min_v, "V"))
    most = most_output(regulator, volts)
    if out_ma > most:
        flow.weak.append(Undersupplied(link.owner, "is asked for too much current", out_ma, most, "mA"))
    return in_ma


def most_output(regulator: Regulator, volts: float) -> float:
    """Return the largest current (mA) that a regulator gives at these input volts.

    The current into a step-up is bounded by its switch, so that it gives less from low volts: Iin·η·Vin/Vout.
    """
    if regulator.in_max_ma <= 0 or regulator.kind not in ("step-up", "step-up-down"):
        return regulator.max_ma
    out_v = regulated_volts(regulator, volts)
    return min(regulator.max_ma, regulator.in_max_ma * regulator.efficiency * max(volts, 0.0) / out_v)


def regulated_volts(regulator: Regulator, volts: float) -> float:
    """Return a regulator's output volts at these input volts.

    Below its least input volts a switching one is reckoned as if it went on: that it stops is told by what is
    weak, and a load that came and went with it would leave no volts to settle at.
    """
    match regulator.kind:
        case "linear" | "step-down":
            left = volts - regulator.dropout_v
            return regulator.out_v if left >= regulator.out_v else left if left > 0.0 else 0.0
        case "step-up":
            return max(regulator.out_v, volts)
        case "step-up-down":
            return regulator.out_v


def input_current(regulator: Regulator, volts: float, out_v: float, out_ma: float) -> float:
    """Return the current (mA) into a regulator that gives so many volts.

    A linear one passes its output current and adds its own; a switching one keeps the power:
    Vout·Iout/(η·Vin) (textbook).
    """
    if regulator.kind == "linear" or volts <= 0:
        return out_ma + regulator.quiescent_ma
    return out_v * out_ma / (regulator.efficiency * volts) + regulator.quiescent_ma
