"""Which sets of parts work together, asked before the search: a bound for every choice on the way there.

Whether parts work together hangs on the parts, not on their homes. Where there are few sets all are asked,
and a partial choice that no working set goes on from costs at least what a choice costs that does not work.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import prod

from fitplan.model.part import Part
from fitplan.planning.choice_bound import Pick

MOST_ASKED = 32
"""Up to so many sets of parts are asked about."""


@dataclass(frozen=True)
class WorkingSets:
    """The sets of parts that work together, a bit each.

    Attributes
    ----------
    every
        A bit for each set that works; -1 where it is not known of all, and any may.
    of
        Of these, the sets that a part is in, by need and part id. A part that is not named is in all of them.
    """

    every: int
    of: Mapping[tuple[str, str], int]

    @classmethod
    def among(
        cls, allowed: Sequence[Sequence[Pick]], suits: Callable[[Mapping[str, Part]], str]
    ) -> WorkingSets:
        """Ask about all sets of parts that serve every need, if they are few.

        Parameters
        ----------
        allowed
            The picks of each need.
        suits
            Returns why parts, by need, do not work together; an empty text when they do.
        """
        ways = [
            list({pick.part.id: pick.part for pick in picks if pick.part is not None}.values())
            for picks in allowed
        ]
        if not all(ways) or prod(map(len, ways)) > MOST_ASKED:
            return cls(-1, {})
        names = [picks[0].need.name for picks in allowed]
        every, of = 0, {(name, part.id): 0 for name, parts in zip(names, ways, strict=True) for part in parts}
        for number, parts in enumerate(itertools.product(*ways)):
            chosen = dict(zip(names, parts, strict=True))
            if suits(chosen):
                continue
            every |= 1 << number
            for name, part in chosen.items():
                of[name, part.id] |= 1 << number
        return cls(every, of)

    def left(self, picks: Iterable[Pick]) -> int:
        """Return a bit for each set that works and holds all of these picks; what is left out is in none."""
        left = self.every
        for pick in picks:
            left &= self.with_one(pick)
        return left

    def with_one(self, pick: Pick) -> int:
        """Return a bit for each set that holds a pick; -1 where all may."""
        return -1 if pick.part is None else self.of.get((pick.need.name, pick.part.id), -1)
