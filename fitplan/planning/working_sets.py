"""How well sets of parts work together, asked before the search: a bound for every choice on the way there.

Whether parts work together hangs on the parts, not on their homes. Where there are few sets all are asked,
and a partial choice costs at least what the best of the sets that it can still come to costs.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import prod

from fitplan.model.part import Part
from fitplan.planning.choice_bound import Pick
from fitplan.planning.exchanges import exchanges
from fitplan.planning.refusal import weight_of

MOST_ASKED = 32
"""Up to so many sets of parts are asked about before the search."""


def working_better(
    parts: Mapping[str, Part], allowed: Sequence[Sequence[Pick]], suits: Callable[[Mapping[str, Part]], str]
) -> list[dict[str, Part]]:
    """Return sets with one or two other parts that work better than these, the best first.

    Parameters
    ----------
    parts
        By need.
    allowed
        The picks of each need.
    suits
        Returns why parts, by need, do not work together; an empty text when they do.
    """
    others: dict[str, list[Part]] = {}
    for picks in allowed:
        name = picks[0].need.name
        if name in parts:
            may = {pick.part.id: pick.part for pick in picks if pick.part is not None}
            others[name] = [part for id_, part in may.items() if id_ != parts[name].id]
    worst = weight_of(suits(parts))
    found: list[tuple[float, dict[str, Part]]] = []
    for some in exchanges(others):
        changed = {**parts, **some}
        if (weight := weight_of(suits(changed))) < worst:
            found.append((weight, changed))
    return [changed for _, changed in sorted(found, key=lambda one: one[0])]


def only_with(parts: Mapping[str, Part], allowed: Sequence[Sequence[Pick]]) -> list[list[Pick]]:
    """Return the picks of needs that may be served by these parts alone, those of all others as they are."""
    return [
        [pick for pick in ways if pick.part in (None, parts.get(pick.need.name, pick.part))]
        for ways in allowed
    ]


@dataclass(frozen=True)
class WorkingSets:
    """The sets of parts that may serve all needs, a bit each, those that work best in the lowest.

    Attributes
    ----------
    every
        A bit for each set; -1 where they were not asked about.
    of
        Of these, the sets that a part is in, by need and part id. A part that is not named is in all of them.
    weights
        How badly each does not work, in the order of bits; 0 where it works.
    """

    every: int
    of: Mapping[tuple[str, str], int]
    weights: tuple[float, ...] = ()

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
        sets = [dict(zip(names, parts, strict=True)) for parts in itertools.product(*ways)]
        weighed = sorted(((weight_of(suits(one)), one) for one in sets), key=lambda pair: pair[0])
        of = {(name, part.id): 0 for name, parts in zip(names, ways, strict=True) for part in parts}
        for number, (_, chosen) in enumerate(weighed):
            for name, part in chosen.items():
                of[name, part.id] |= 1 << number
        return cls((1 << len(sets)) - 1, of, tuple(weight for weight, _ in weighed))

    def left(self, picks: Iterable[Pick]) -> int:
        """Return a bit for each set that holds all of these picks; what is left out is in none."""
        left = self.every
        for pick in picks:
            left &= self.with_one(pick)
        return left

    def with_one(self, pick: Pick) -> int:
        """Return a bit for each set that holds a pick; -1 where all may."""
        return -1 if pick.part is None else self.of.get((pick.need.name, pick.part.id), -1)

    def least(self, left: int) -> float:
        """Return how badly the best of some sets does not work; 0 where that is not known."""
        return self.weights[(left & -left).bit_length() - 1] if self.weights and left else 0.0
