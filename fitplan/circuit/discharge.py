"""A source emptied by its loads, from full to the moment at which something gives up.

What is drawn depends on the state of charge alone, so time is an integral over it: ``t = ∫ ds / fall(I(s))``.
It is taken by Gauss's rule with three points on each of many small pieces that end at the bends of the
cell's curve.  The volts at the terminals solve ``V = U − R·I(V)``; where no volts do, the cells cannot
give the power.  Things give up at peak current, while the charge goes down with the average.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from fitplan.circuit.cells import Source, source_of
from fitplan.circuit.chain import Draw, Flow, Undersupplied, flow_through
from fitplan.circuit.supply_tree import Rail, SupplyTree

PIECES = 200
"""Pieces into which the state of charge is cut where its course is drawn."""
FEW_PIECES = 25
"""Pieces that do where only the end is asked for: hours differ by some millionths, as pieces end at bends."""
MOST_LEFT = 0.5
"""Share of the charge that may be left: more is carried for nothing (common practice, no source)."""
_GAUSS = (
    (0.5 - math.sqrt(0.15), 5 / 18),
    (0.5, 8 / 18),
    (0.5 + math.sqrt(0.15), 5 / 18),
)
_TURNS = 200
_CLOSE_CHARGE = 1e-8
"""Share of a full charge to which it is found out when something gives up."""
_CLOSE_V = 1e-9


@dataclass(frozen=True)
class Discharge:
    """A whole discharge.

    Attributes
    ----------
    hours
        Until the first thing gives up (``failed``) or the source is empty; infinite without a load.
    failed
        What gave up first; None when the source went empty with everything still running.
    at_start
        It failed with a fresh source.
    times_h, terminal_v, lowest_v
        The course: volts at the terminals with average loads, and with everything at its peak.
    arriving
        For every owner the volts that arrive at it at peak, along ``times_h``.
    charge_mah
        Drawn from the source.
    given_mwh, inside_mwh, regulators_mwh, leads_mwh, loads_mwh
        Energy that the source's open-circuit volts gave, and where it went.
    """

    hours: float
    failed: Undersupplied | None
    at_start: bool
    left: float
    times_h: tuple[float, ...]
    terminal_v: tuple[float, ...]
    lowest_v: tuple[float, ...]
    arriving: dict[str, tuple[float, ...]]
    charge_mah: float
    given_mwh: float
    inside_mwh: float
    regulators_mwh: float
    leads_mwh: float
    loads_mwh: float

    @property
    def average_ma(self) -> float:
        """Charge per running hour in mA."""
        return self.charge_mah / self.hours if 0 < self.hours < math.inf else 0.0


@dataclass(frozen=True)
class State:
    """The tree at one state of charge: terminal volts (0 when the cells cannot give the power) and flow."""

    volts: float
    current_ma: float
    flow: Flow
    collapsed: bool


def solve_state(
    source: Source,
    rail: Rail,
    charge: float,
    peak: bool,
    leads: Mapping[str, float],
    draw: Draw | None = None,
) -> State:
    """Return volts and currents at a state of charge; ``draw`` is that of the same rail, if it is at hand.

    Starting from the open-circuit volts, ``V ← U − R·I(V)`` falls to the highest volts at which the
    source can feed the loads; a current that rises as volts fall makes each step monotone.  The inputs of
    links sag with it, step by step, and for the same reason.
    """
    open_v, ohm = source.open_volts(charge), source.resistance(charge)
    draw = draw or Draw(rail, peak, leads)
    draw.begin()
    volts = at = open_v
    current = 0.0
    collapsed = False
    for _ in range(_TURNS):
        at, current = volts, draw.sweep(volts)
        volts = open_v - ohm * current / 1000
        collapsed = volts <= 0.2 * open_v
        if collapsed:
            volts, current = 0.0, draw(at)
            break
        if abs(at - volts) < _CLOSE_V and draw.stands_still:
            break
    return State(volts, current, flow_through(rail, at, peak, leads, draw.sagged)[1], collapsed)


class _Tap:
    """A source and what hangs from it, to be asked at many states of charge."""

    def __init__(self, source: Source, rail: Rail, leads: Mapping[str, float]) -> None:
        self.source, self._rail, self._leads = source, rail, leads
        self._draws = {peak: Draw(rail, peak, leads) for peak in (True, False)}
        self._known: dict[tuple[float, bool], State] = {}

    def state(self, charge: float, peak: bool) -> State:
        """Return volts and currents at a state of charge; each is worked out once."""
        key = (charge, peak)
        if key not in self._known:
            self._known[key] = solve_state(
                self.source, self._rail, charge, peak, self._leads, self._draws[peak]
            )
        return self._known[key]


def discharge(
    tree: SupplyTree,
    leads: Mapping[str, float] | None = None,
    pieces: int | None = None,
    *,
    course: bool = True,
    lower_v: float = 0.0,
) -> Discharge:
    """Empty a source.

    Parameters
    ----------
    leads
        Resistance in Ω of the leads to an owner and back, by owner; none by default.
    pieces
        Into how many pieces the state of charge is cut; None: as many as its course wants, or its end.
    course
        Whether volts are noted along the way; else `Discharge.times_h` and what goes with it are empty.
    lower_v
        How much lower each cell's volts are reckoned than its curve says.
    """
    pieces = pieces or (PIECES if course else FEW_PIECES)
    return _discharge(tree, tuple(sorted((leads or {}).items())), pieces, course, lower_v)


@lru_cache(maxsize=512)  # a plan's checks ask for the same discharges, and run again when it is checked anew
def _discharge(
    tree: SupplyTree, leads: tuple[tuple[str, float], ...], pieces: int, course: bool, lower_v: float
) -> Discharge:
    source = source_of(tree.source, lower_v)
    tap = _Tap(source, tree.root, dict(leads))

    def weak_at(charge: float) -> Undersupplied | None:
        state = tap.state(charge, True)
        if state.collapsed:
            open_v = source.open_volts(charge)
            return Undersupplied(tree.owner, "cannot give the power", 0.0, round(0.2 * open_v, 3), "V")
        # Too much current with fresh cells is no sign of emptiness and has its own finding.
        return next((w for w in state.flow.weak if w.unit == "V" or w.owner not in fresh), None)

    usual = _Tap(source_of(tree.source), tree.root, dict(leads)) if lower_v else tap
    fresh = {weak.owner for weak in usual.state(1.0, True).flow.weak if weak.unit == "mA"}
    marks = sorted({*source.bends, *(i / pieces for i in range(pieces + 1))}, reverse=True)
    end, failed = 0.0, None
    # What is weak stays so while the charge falls, as volts do, and with them what regulators give.
    first = bisect_left(marks, True, key=lambda mark: weak_at(mark) is not None)
    if first < len(marks) and (weak := weak_at(marks[first])) is not None:
        mark = marks[first]
        end, failed = _first_weak(weak_at, marks[first - 1], mark, weak) if first else (mark, weak)
    return _run_down(tap, [m for m in marks if m > end] + [end], failed, course)


def _first_weak(
    weak_at: Callable[[float], Undersupplied | None], good: float, bad: float, weak: Undersupplied
) -> tuple[float, Undersupplied]:
    """Return the highest state of charge at which something is weak, between a good and a bad one."""
    while good - bad > _CLOSE_CHARGE:
        middle = (good + bad) / 2
        found = weak_at(middle)
        if found is None:
            good = middle
        else:
            bad, weak = middle, found
    return bad, weak


def _run_down(tap: _Tap, marks: list[float], failed: Undersupplied | None, course: bool) -> Discharge:
    source = tap.source
    hours = charge = given = inside = regulators = lead = loads = 0.0
    times: list[float] = []
    terminal: list[float] = []
    lowest: list[float] = []
    arriving: dict[str, list[float]] = {}

    def note(mark: float) -> None:
        if not course:
            return
        times.append(hours)
        terminal.append(tap.state(mark, False).volts)
        peak = tap.state(mark, True)
        lowest.append(peak.volts)
        for owner, volts in peak.flow.volts.items():
            arriving.setdefault(owner, []).append(0.0 if peak.collapsed else volts)

    note(marks[0])
    for high, low in pairwise(marks):
        width = high - low
        for place, weight in _GAUSS:
            at = low + place * width
            state = tap.state(at, False)
            fall = source.fall(state.current_ma)
            if fall <= 0:
                return _endless(failed, tuple(terminal), tuple(lowest), arriving)
            time = weight * width / fall
            hours += time
            charge += state.current_ma * time
            given += source.open_volts(at) * state.current_ma * time
            inside += source.resistance(at) * state.current_ma**2 / 1000 * time
            regulators += state.flow.regulator_mw * time
            lead += state.flow.lead_mw * time
            loads += state.flow.load_mw * time
        note(low)
    return Discharge(
        hours=hours,
        failed=failed,
        at_start=failed is not None and len(marks) == 1,
        left=marks[-1],
        times_h=tuple(times),
        terminal_v=tuple(terminal),
        lowest_v=tuple(lowest),
        arriving={owner: tuple(volts) for owner, volts in arriving.items()},
        charge_mah=charge,
        given_mwh=given,
        inside_mwh=inside,
        regulators_mwh=regulators,
        leads_mwh=lead,
        loads_mwh=loads,
    )


def _endless(
    failed: Undersupplied | None,
    terminal: tuple[float, ...],
    lowest: tuple[float, ...],
    arriving: Mapping[str, list[float]],
) -> Discharge:
    """Return the discharge of a source that nothing draws from."""
    kept = {owner: tuple(volts) for owner, volts in arriving.items()}
    times = (0.0,)[: len(terminal)]
    return Discharge(math.inf, failed, False, 1.0, times, terminal[:1], lowest[:1], kept, 0, 0, 0, 0, 0, 0)
