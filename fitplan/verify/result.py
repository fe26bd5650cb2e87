"""What checking a plan again brings to light."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """Something in a plan that does not hold.

    Attributes
    ----------
    subject
        What kind of thing: ``overlap``, ``body``, ``clearance``, ``mount``, ``support``, ``wire``, ``net`` …
    where
        Vehicle, part, wire or net.
    message
        What is wrong, in a sentence.
    figure, unit
        How much is wrong.
    """

    subject: str
    where: str
    message: str
    figure: float = 0.0
    unit: str = ""


@dataclass(frozen=True)
class Checked:
    """How many things of a kind were checked."""

    what: str
    count: int


@dataclass(frozen=True)
class Trusted:
    """What of a plan was not worked out again, how much of it there is, and why."""

    what: str
    count: int
    why: str


_IN_SUMMARY = (
    "needs",
    "pairs of parts",
    "wires",
    "nets",
    "pins joined",
    "crossings",
    "assembly steps replayed",
)


@dataclass(frozen=True)
class Report:
    """All that was checked, all that does not hold, and what is worth knowing though it holds."""

    checked: tuple[Checked, ...]
    problems: tuple[Problem, ...]
    notes: tuple[Problem, ...] = ()
    trusted: tuple[Trusted, ...] = ()
    """What was taken on trust: it stands in the plan, and was not worked out again."""

    @property
    def holds(self) -> bool:
        """Whether the plan stands up."""
        return not self.problems

    @property
    def summary(self) -> str:
        """The result in a sentence or two; all counts are in ``checked``."""
        counts = {entry.what: entry.count for entry in self.checked}
        named = ", ".join(f"{counts[what]} {what}" for what in _IN_SUMMARY if counts.get(what))
        done = f"{sum(counts.values())} checks: {named}."
        if self.holds:
            return f"The plan holds. {done}"
        count = len(self.problems)
        return f"The plan does not hold: {count} problem{'s' if count > 1 else ''}. {done}"


class Tally:
    """What the checks write on while they work."""

    def __init__(self) -> None:
        self._counts: Counter[str] = Counter()
        self._problems: list[Problem] = []
        self._notes: list[Problem] = []
        self._trusted: list[Trusted] = []

    def count(self, what: str, by: int = 1) -> None:
        """Count things of a kind as checked."""
        self._counts[what] += by

    def problem(self, subject: str, where: str, message: str, figure: float = 0.0, unit: str = "") -> None:
        """Write down something that does not hold."""
        self._problems.append(Problem(subject, where, message, round(float(figure), 4), unit))

    def note(self, subject: str, where: str, message: str, figure: float = 0.0, unit: str = "") -> None:
        """Write down something worth knowing that is no fault."""
        self._notes.append(Problem(subject, where, message, round(float(figure), 4), unit))

    def trust(self, what: str, count: int, why: str) -> None:
        """Write down what is taken on trust, when there is any of it."""
        if count:
            self._trusted.append(Trusted(what, count, why))

    def report(self) -> Report:
        """Return what stands on the sheet, in the order in which it was written."""
        checked = tuple(Checked(what, count) for what, count in self._counts.items())
        return Report(checked, tuple(self._problems), tuple(self._notes), tuple(self._trusted))
