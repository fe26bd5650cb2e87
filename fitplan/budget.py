"""How much the searches may do: counted work, and a clock only where the user asks for a deadline.

Work is counted in steps of the inner loops (about 200 million a second), so the same question has the same
answer on a slow machine, a busy one and a fast one.  A deadline can only cut a search short: what it leaves
open is *not decided*, and says so.  Who gets which share of the whole stands in `SHARES` and `ENDS` alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from time import monotonic, time
from types import MappingProxyType
from typing import Literal, TypeAlias

Share: TypeAlias = Literal["choice", "runners-up", "question", "rebuild", "row", "reason", "cut"]
Stage: TypeAlias = Literal[
    "styles of wiring",
    "shortest ways to compare with",
    "proofs of trees",
    "room to bend",
    "places compared by their wires",
    "places laid loosely",
    "better places",
    "wires side by side",
    "ways of wires",
    "what else would fit",
    "order of work",
]

SHARES: Mapping[Share, float] = MappingProxyType(
    {
        "choice": 0.3,  # the best choice of parts and vehicles
        "runners-up": 0.3,  # the choices beside the best
        "question": 0.1,  # whether some parts go into one vehicle as it stands
        "rebuild": 0.2,  # the least rebuild of one vehicle
        "row": 0.13,  # the least rebuild for one row of the fit table
        "reason": 0.1,  # which parts, as few as can be, are in each other's way
        "cut": 0.01,  # whether a part shortened by so much would go in
    }
)
"""What each kind of search may have of the whole."""

ENDS: Mapping[Stage, float] = MappingProxyType(
    {
        "styles of wiring": 0.4,  # what nets would take if they were wired otherwise
        "shortest ways to compare with": 0.5,  # how much longer a wire is than it need be alone
        "proofs of trees": 0.55,  # beyond, nets branch where that was found quickly
        "room to bend": 0.65,  # wires with a sharp corner are laid again
        "places compared by their wires": 0.2,  # loose places where nothing is wrong with the packed ones
        "places laid loosely": 0.75,  # parts in a port make way before any wire runs
        "better places": 0.85,  # parts make way for wires and for each other's way in
        "wires side by side": 0.9,  # what is overfull is negotiated
        "ways of wires": 1.0,  # a net that has none by then is told as not decided
        "what else would fit": 0.9,  # begins when all the others are over, or runs beside them
        "order of work": 1.0,  # beyond, parts go in as the assembly has them
    }
)
"""When a stage must be over, as a share of the deadline, if there is one: what matters least is cut first."""

FINISH_S, FINISH_NEED_S, FINISH_MOST = 0.4, 0.15, 0.6
"""What is never cut, the checks, the second check and the files, is left so many seconds, and so many more
for each part (measured on the examples), but at most this share of the deadline."""

USUAL_STEPS = 15_000_000_000
"""Steps of a whole plan where the user asks for no more: about 100 s of one processor, seldom used up."""

LATE = "the deadline was reached"
"""What is said of a question that a deadline left open."""


@dataclass(frozen=True)
class Budget:
    """What a search may spend.

    Attributes
    ----------
    steps
        Counted work.
    deadline_s
        Seconds from its beginning; None without a clock.
    until
        When the deadline is reached, as `time.monotonic` tells it; None without a clock.
    """

    steps: int
    deadline_s: float | None = None
    until: float | None = None

    @classmethod
    def usual(cls, *, effort: float = 1.0, deadline_s: float | None = None) -> Budget:
        """Return the budget of a whole plan; its clock, if it has one, starts now.

        Parameters
        ----------
        effort
            So many times the usual work.
        """
        until = None if deadline_s is None else monotonic() + deadline_s
        return cls(round(USUAL_STEPS * effort), deadline_s, until)

    def share(self, what: Share) -> Budget:
        """Return what one kind of search may spend; its clock starts now and never outlasts the whole."""
        return self.part(SHARES[what])

    def part(self, share: float) -> Budget:
        """Return a part of the budget, beginning now; at least one step."""
        steps = max(1, round(self.steps * share))
        if self.deadline_s is None or self.until is None:
            return Budget(steps)
        return Budget(steps, self.deadline_s * share, min(self.until, monotonic() + self.deadline_s * share))

    def ending(self, stage: Stage) -> Budget:
        """Return the budget with the end that a stage must keep."""
        if self.deadline_s is None or self.until is None:
            return self
        return replace(self, until=self.until - self.deadline_s * (1 - ENDS[stage]))

    def over(self, stage: Stage) -> bool:
        """Whether a stage must be over by now."""
        return self.ending(stage).late

    def searching(self, needs: int) -> Budget:
        """Return what the searches of a plan may have: time is left to check and write what they find.

        Parameters
        ----------
        needs
            How many parts the train asks for.
        """
        if self.deadline_s is None or self.until is None:
            return self
        kept = min(FINISH_S + needs * FINISH_NEED_S, self.deadline_s * FINISH_MOST)
        return Budget(self.steps, self.deadline_s - kept, self.until - kept)

    def less(self, spent: int) -> Budget:
        """Return what is left when so many steps are spent."""
        return replace(self, steps=max(0, self.steps - spent))

    @property
    def late(self) -> bool:
        """Whether the deadline is reached."""
        return self.until is not None and monotonic() > self.until

    def used_up(self, spent: int) -> bool:
        """Whether so many steps are all that may be spent, or the deadline is reached."""
        return spent >= self.steps or self.late

    def why(self, otherwise: str) -> str:
        """Say why a search ended without an answer: the deadline, or else what is given."""
        return LATE if self.late else otherwise

    def __getstate__(self) -> dict[str, float | None]:
        """Carry the deadline to another process by the clock that all have in common."""
        left = None if self.until is None else time() + self.until - monotonic()
        return {"steps": self.steps, "deadline_s": self.deadline_s, "until": left}

    def __setstate__(self, state: dict[str, float | None]) -> None:
        """Read the deadline by this process's own clock."""
        until = state["until"]
        state = {**state, "until": None if until is None else monotonic() + until - time()}
        for name, value in state.items():
            object.__setattr__(self, name, value)


UNHURRIED = Budget.usual()
"""A whole plan's usual work, without a clock."""

QUESTION = Budget.usual().share("question")
"""What one question may spend where nobody says otherwise."""
