"""What was measured on the finished train, with its date, and the stopping that is fitted to it.

A train that is told to stop at a speed v runs on for ``v·t + v²/(2a)``. Delay t and deceleration a are fitted
to measured runs by least squares; what runs differ from that is their spread. How far the next run may go
with a chosen chance follows from Student's t (prediction of one more observation, textbook).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fitplan.model.student import student_bound, student_share


@dataclass(frozen=True)
class MeasuredFigure:
    """A figure that was measured: of what, on which day, and what it was reckoned with before."""

    date: str
    what: str
    value: str
    typical: str


@dataclass(frozen=True)
class StopRun:
    """One stop: how far (mm) the train ran from where it was told to, at a speed in mm/s."""

    speed: float
    run_mm: float


@dataclass(frozen=True)
class MeasuredCoupling:
    """How long (mm) the wires over a coupling are from port to port, slack included."""

    vehicles: tuple[str, str]
    free_mm: float
    date: str


@dataclass(frozen=True)
class MeasuredSupply:
    """What a need's cells or bank give on average in running (mA)."""

    need: str
    current_ma: float
    date: str


@dataclass(frozen=True)
class MeasuredWire:
    """How long (mm) a wire of what is built was cut."""

    number: int
    cut_mm: float
    date: str


@dataclass(frozen=True)
class Measured:
    """All that was measured.

    Attributes
    ----------
    chance
        Of a stop that goes beyond the trip distance less the margin: what the user allows.
    drawn
        Parts by id, and what is built in as ``vehicle/name``, whose own currents were measured.
    """

    figures: tuple[MeasuredFigure, ...] = ()
    stops: tuple[StopRun, ...] = ()
    chance: float = 0.01
    couplings: tuple[MeasuredCoupling, ...] = ()
    supplies: tuple[MeasuredSupply, ...] = ()
    wires: tuple[MeasuredWire, ...] = ()
    drawn: tuple[str, ...] = ()

    def part_note(self, part: str) -> str:
        """Return what was measured of a part, in words for a list; empty where nothing was."""
        kinds = ("outline", "mass", "current")
        told = [f"{kind} {day}" for kind in kinds if (day := self.date(f"{kind} of {as_measured_id(part)}"))]
        return f"measured: {', '.join(told)}" if told else ""

    def date(self, what: str) -> str:
        """Return on which day a figure was measured, by its words; empty for one that was not."""
        return next((one.date for one in reversed(self.figures) if one.what == what), "")

    def coupling(self, one: str, other: str) -> MeasuredCoupling | None:
        """Return what was measured of the coupling between two vehicles, last; None where nothing was."""
        beside = {one, other}
        return next((item for item in reversed(self.couplings) if set(item.vehicles) == beside), None)

    def supply(self, need: str) -> MeasuredSupply | None:
        """Return what was measured of a supply, last; None where nothing was."""
        return next((item for item in reversed(self.supplies) if item.need == need), None)

    def wire(self, number: int) -> MeasuredWire | None:
        """Return what was measured of a wire, last; None where nothing was."""
        return next((item for item in reversed(self.wires) if item.number == number), None)


NOTHING_MEASURED = Measured()


def free_length_of(ahead: str, behind: str) -> str:
    """Return the words for the free length of the wires over a coupling."""
    return f"free length of wires between {ahead} and {behind}"


def as_measured_id(part: str) -> str:
    """Return the id under which a part is measured: with the plug of its lead in, it is the same part."""
    return part.removesuffix("-plugged")


@dataclass(frozen=True)
class StoppingFit:
    """Delay (s) and deceleration (mm/s²) fitted to runs, their spread (mm) and its degrees of freedom.

    ``square``, ``cross``, ``fourth``: sums of v², v³ and v⁴ over the runs; without a delay the last alone.
    """

    delay_s: float
    deceleration: float
    spread_mm: float
    freedom: int
    square: float
    cross: float
    fourth: float

    def mean(self, speed: float) -> float:
        """Return how far a train runs on the average (mm)."""
        return speed * self.delay_s + speed**2 / (2 * self.deceleration)

    def deviation(self, speed: float) -> float:
        """Return the standard deviation (mm) of one more run about the fitted mean, with the fit's own."""
        if self.square:
            determinant = self.square * self.fourth - self.cross**2
            x, y = speed, speed**2
            share = (self.fourth * x * x - 2 * self.cross * x * y + self.square * y * y) / determinant
        else:
            share = speed**4 / self.fourth
        return self.spread_mm * math.sqrt(1 + share)

    def bound(self, speed: float, chance: float) -> float:
        """Return the run (mm) that one more stop exceeds with this chance."""
        return self.mean(speed) + student_bound(chance, self.freedom) * self.deviation(speed)

    def chance_beyond(self, speed: float, run_mm: float) -> float:
        """Return the chance that one more stop runs farther than this (mm)."""
        deviation = self.deviation(speed)
        if deviation <= 0:
            return float(run_mm < self.mean(speed))
        return 1 - student_share((run_mm - self.mean(speed)) / deviation, self.freedom)


def stopping_fit(runs: Sequence[StopRun]) -> StoppingFit | str:
    """Return the stopping that fits runs best (least squares), or why none can be told.

    Where the best delay would be below nothing, it is nothing, and the brake alone is fitted.
    """
    speeds = {run.speed for run in runs}
    if len(speeds) < 2 or len(runs) < 3:
        return "stops at two speeds and three stops in all are the least"
    v2 = sum(run.speed**2 for run in runs)
    v3 = sum(run.speed**3 for run in runs)
    v4 = sum(run.speed**4 for run in runs)
    d1 = sum(run.speed * run.run_mm for run in runs)
    d2 = sum(run.speed**2 * run.run_mm for run in runs)
    determinant = v2 * v4 - v3**2
    delay, brake = (d1 * v4 - d2 * v3) / determinant, (d2 * v2 - d1 * v3) / determinant
    parameters = 2
    if delay < 0:
        delay, brake, parameters = 0.0, d2 / v4, 1
    if brake <= 0:
        return "the runs do not grow with the speed as a brake's do"
    freedom = len(runs) - parameters
    rest = sum((run.run_mm - delay * run.speed - brake * run.speed**2) ** 2 for run in runs)
    sums = (v2, v3, v4) if parameters == 2 else (0.0, 0.0, v4)
    return StoppingFit(delay, 1 / (2 * brake), math.sqrt(rest / freedom), freedom, *sums)
