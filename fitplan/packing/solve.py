"""Answer a packing problem: places, a confirmed proof, or what is left open.

Several searches take turns, each for a fixed amount of work, so that the same problem and seed come to the
same answer whatever the machine; the clock only decides when to stop.  A search that ends without a packing
is a proof only when a second one that shares no pruning with it ends the same way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic
from typing import Protocol, TypeAlias

from fitplan.packing.bounds import quick_proof
from fitplan.packing.free_offsets import Kind, kinds_of
from fitplan.packing.placement_check import check_placement
from fitplan.packing.problem import Answer, Placed, Problem, Proof
from fitplan.packing.search_places import MOST_ITEMS, OrderSearch, QuickSearch

Progress: TypeAlias = Callable[[str, float], None]
"""Called with what is being tried and the share of the deadline that is spent."""

Outcome: TypeAlias = dict[str, Placed] | bool | None
"""Places; False when the search is exhausted; None when there is more to do."""


class Searcher(Protocol):
    """One search of the portfolio: `turn` does a fixed amount of work."""

    name: str
    method: str
    complete: bool
    work: int

    def turn(self) -> Outcome:
        """Work on; return places, False when nothing fits, or None."""


@dataclass
class QuickTurns:
    """The quick search in turns of growing length."""

    search: QuickSearch
    name: str = "corners"
    method: str = ""
    complete: bool = False
    work: int = 0

    def turn(self) -> Outcome:
        """Make some runs."""
        for _ in range(4):
            self.work += 1
            found = self.search.run()
            if found is not None:
                return found
        return None


@dataclass
class OrderTurns:
    """The complete search by order in turns."""

    search: OrderSearch
    name: str = "order"
    method: str = "a search over who lies on which side of whom"
    complete: bool = True
    work: int = 0

    def turn(self) -> Outcome:
        """Search some nodes."""
        found = self.search.run(5_000)
        self.work = self.search.nodes
        return found


def solve(
    problem: Problem,
    *,
    deadline_s: float,
    seed: int = 0,
    progress: Progress | None = None,
    proofs: bool = True,
) -> Answer:
    """Place all items, prove that they cannot be placed together, or say what is left open.

    Parameters
    ----------
    deadline_s
        Seconds after which the answer is ``not_decided``; a longer deadline never changes a verdict.
    seed
        Order of the search among equals.
    progress
        Called now and then with what is being tried and the share of the deadline that is spent.
    proofs
        False when only places are wanted: a part without any offset is *not decided* at once, without
        confirming the proof a second way.
    """
    start = monotonic()
    if not problem.items:
        return Answer("fits")
    try:
        kinds = kinds_of(problem)
    except OverflowError as error:
        return Answer("not_decided", gap=str(error))
    if not proofs and not all(any(len(free.pieces) for free in kind.variants) for kind in kinds):
        return Answer("not_decided", gap="a part has no place")
    proof = quick_proof(problem, kinds)
    if proof is not None and proof.confirmations:
        return Answer("cannot_fit", proof=proof)
    if not all(any(len(free.pieces) for free in kind.variants) for kind in kinds):
        # Nothing is left to search, and the proof could not be confirmed: not decided, never a guess.
        return Answer("not_decided", gap="a part has no place, which could not be confirmed a second way")
    if len(problem.items) > MOST_ITEMS:
        return Answer("not_decided", gap=f"{len(problem.items)} items are more than {MOST_ITEMS}")
    return _search(problem, kinds, start, deadline_s, seed, progress)


def _search(
    problem: Problem,
    kinds: tuple[Kind, ...],
    start: float,
    deadline_s: float,
    seed: int,
    progress: Progress | None,
) -> Answer:
    quick = QuickSearch(kinds, seed)
    searchers: list[Searcher] = [QuickTurns(quick), OrderTurns(OrderSearch(kinds))]
    ended: list[Searcher] = []
    steps: dict[str, int] = {}
    while True:
        for searcher in list(searchers):
            found = searcher.turn()
            steps[searcher.name] = searcher.work
            if isinstance(found, dict):
                faults = check_placement(problem, found)
                if faults:
                    raise AssertionError(f"the {searcher.name} search laid items wrongly: {faults[0]}")
                return Answer("fits", found, steps=steps)
            if found is False:
                searchers.remove(searcher)
                ended.append(searcher)
                if len(ended) == 1:
                    searchers = [other for other in searchers if other.complete]
                    searchers.append(
                        OrderTurns(
                            OrderSearch(kinds, reverse=True),
                            "order, reversed",
                            "the same with items, poses and places taken in the opposite order",
                        )
                    )
            if len(ended) == 2:
                return Answer("cannot_fit", proof=_exhausted(problem, ended), steps=steps)
            spent = monotonic() - start
            if progress is not None:
                progress(searcher.name, min(1.0, spent / deadline_s) if deadline_s > 0 else 1.0)
            if spent > deadline_s:
                unconfirmed = _exhausted(problem, ended) if ended else None
                return Answer(
                    "not_decided",
                    gap=_gap(problem, quick, unconfirmed),
                    unconfirmed=unconfirmed,
                    best=quick.best,
                    steps=steps,
                )


def _exhausted(problem: Problem, ended: list[Searcher]) -> Proof:
    text = f"All ways to lay the {len(problem.items)} items were searched, and none is free of overlaps."
    return Proof(
        "search",
        text,
        tuple(searcher.method for searcher in ended),
        tuple(item.name for item in problem.items),
    )


def _gap(problem: Problem, quick: QuickSearch, unconfirmed: Proof | None) -> str:
    if unconfirmed is not None:
        return "one search found that nothing fits, but no second one has confirmed it yet"
    left = [item.name for item in problem.items if item.name not in quick.best]
    return (
        f"{len(quick.best)} of {len(problem.items)} items were placed together; left over: {', '.join(left)}"
    )


def explain(problem: Problem, answer: Answer) -> str:
    """Say in plain sentences why the items do not fit together."""
    return answer.proof.text if answer.proof else answer.gap
