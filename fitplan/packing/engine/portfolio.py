"""The searches that take turns on one problem, behind one interface.

A turn is a fixed number of steps, so which search answers first depends on the problem and the seed alone.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeAlias

from fitplan.packing.engine.free_offsets import ItemKind
from fitplan.packing.engine.problem import Placed
from fitplan.packing.engine.search_places import OrderSearch, QuickSearch
from fitplan.packing.engine.search_sides import SidesSearch

Outcome: TypeAlias = dict[str, Placed] | bool | None
"""Places; False when the search is exhausted; None when there is more to do."""

TURN_STEPS = 2_000_000
"""Steps of one turn: about a hundredth of a second."""

QUICK_RUNS = 4
"""Runs of the quick search in one turn."""


class Searcher(Protocol):
    """One search of the portfolio.

    Attributes
    ----------
    name
        Short name for statistics; searches of one name share code and cannot confirm each other.
    method
        How the search went through all packings, as a phrase; empty for one that proves nothing.
    """

    name: str
    method: str

    @property
    def work(self) -> int:
        """Nodes or runs so far."""

    @property
    def steps(self) -> int:
        """Steps of the budget so far."""

    @property
    def overrun(self) -> bool:
        """Whether the search ran out of room and was given up."""

    def turn(self) -> Outcome:
        """Do one turn's work."""


class Complete(Protocol):
    """A complete search that can be run on and on."""

    overrun: bool

    @property
    def nodes(self) -> int:
        """Nodes so far."""

    @property
    def steps(self) -> int:
        """Steps so far."""

    def run(self, steps: int) -> dict[str, Placed] | bool | None:
        """Search some steps further."""


class CompleteTurns:
    """A complete search in turns; it is set up when its first turn comes."""

    def __init__(self, make: Callable[[], Complete], name: str, method: str) -> None:
        self._make = make
        self._search: Complete | None = None
        self._refused = False
        self.name, self.method = name, method

    @property
    def work(self) -> int:
        """Nodes so far."""
        return self._search.nodes if self._search is not None else 0

    @property
    def steps(self) -> int:
        """Steps so far."""
        return self._search.steps if self._search is not None else 0

    @property
    def overrun(self) -> bool:
        """Whether the search ran out of room, or had none to begin with."""
        return self._refused or (self._search is not None and self._search.overrun)

    def turn(self) -> Outcome:
        """Search some steps further."""
        if self._search is None:
            try:
                self._search = self._make()
            except (OverflowError, MemoryError):
                self._refused = True
                return None
        return self._search.run(TURN_STEPS)


class QuickTurns:
    """Runs of the quick search at corners."""

    name, method, overrun = "corners", "", False

    def __init__(self, search: QuickSearch) -> None:
        self.search = search

    @property
    def work(self) -> int:
        """Runs so far."""
        return self.search.runs

    @property
    def steps(self) -> int:
        """Steps so far; one of the quick search takes as long as three others."""
        return 3 * self.search.steps

    def turn(self) -> Outcome:
        """Make some runs, fewer when they take long."""
        end = self.steps + TURN_STEPS
        for _ in range(QUICK_RUNS):
            found = self.search.run()
            if found is not None:
                return found
            if self.steps >= end:
                break
        return None


def searchers_for(kinds: tuple[ItemKind, ...], seed: int) -> tuple[QuickSearch, list[Searcher]]:
    """Return the quick search and all searches that apply, in the order in which they take turns."""
    quick = QuickSearch(kinds, seed)
    order = "a search over who lies on which side of whom, by the range of each one's places"
    return quick, [QuickTurns(quick), CompleteTurns(lambda: OrderSearch(kinds), "order", order)]


def confirming(kinds: tuple[ItemKind, ...]) -> Searcher:
    """Return the complete search that confirms the one by order, sharing neither code nor memory with it."""
    method = "a search of another build over who lies on which side of whom, by the distances of any two"
    return CompleteTurns(lambda: SidesSearch(kinds), "sides", method)
