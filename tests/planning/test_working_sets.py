"""How well sets of parts work together: the bits beside every set listed anew."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping

import pytest

from fitplan.model.part import Part
from fitplan.planning.choice_bound import Pick
from fitplan.planning.refusal import FAILS, OUTDONE, RUINS, Refusal, weight_of
from fitplan.planning.working_sets import MOST_ASKED, WorkingSets, working_better
from tests.circuit.sample_parts import need, part


def _ways(counts: list[int]) -> list[list[Pick]]:
    """Return picks of needs with so many candidates each, in either of two vehicles, or left out."""
    found = []
    for number, count in enumerate(counts):
        asked = need(f"n{number}", *(part(f"p{number}{k}") for k in range(count)))
        homes = [Pick(asked, one, home, 0) for one in asked.candidates for home in ("loco", "wagon")]
        found.append([*homes, Pick(asked, None, "", 0)])
    return found


def test_a_partial_choice_costs_no_less_than_the_best_that_it_can_come_to() -> None:
    """For every partial choice of random trains, as a list of all whole ones says."""
    dice = random.Random(4)
    stuck = 0
    for _ in range(40):
        ways = _ways([dice.randint(1, 3) for _ in range(3)])
        bad = {
            tuple(p.id for p in parts): dice.choice((OUTDONE, FAILS, RUINS))
            for parts in itertools.product(*([w.part for w in way if w.part] for way in ways))
            if dice.random() < 0.7
        }

        def suits(parts: Mapping[str, Part], bad: dict[tuple[str, ...], float] = bad) -> str:
            kind = bad.get(tuple(parts[f"n{i}"].id for i in range(3)))
            return Refusal("no", kind) if kind else ""

        sets = WorkingSets.among(ways, suits)
        whole = [[w for w in way if w.part] for way in ways]
        for picks in itertools.product(*ways):
            ids = [p.part.id if p.part else None for p in picks]
            least = min(
                weight_of(suits({f"n{i}": p.part for i, p in enumerate(one) if p.part}))
                for one in itertools.product(*whole)
                if all(want in (None, p.part.id) for want, p in zip(ids, one, strict=True) if p.part)
            )
            assert sets.least(sets.left(picks)) == least
            stuck += least > 0
    assert stuck > 100


def test_of_too_many_sets_nothing_is_said() -> None:
    """Beyond the number that is asked about any partial choice may go on, and nobody was asked."""
    ways = _ways([3, 3, 4])
    asked: list[Mapping[str, Part]] = []

    def suits(parts: Mapping[str, Part]) -> str:
        asked.append(parts)
        return "no"

    assert MOST_ASKED < 3 * 3 * 4
    many = WorkingSets.among(ways, suits)
    assert many.least(many.left([way[0] for way in ways])) == 0
    assert not asked
    few = WorkingSets.among(ways[:2], suits)
    assert few.least(few.left([])) == 1
    assert len(asked) == 9


@pytest.mark.parametrize("seed", range(10))
def test_sets_that_work_better_are_found_among_those_with_one_or_two_other_parts(seed: int) -> None:
    """The best first, each better than what there is; none of those that differ in two parts is missing."""
    dice = random.Random(seed)
    ways = _ways([2, 3, 2])
    weights = {
        tuple(p.id for p in parts): Refusal("no", dice.choice((OUTDONE, FAILS, RUINS)), dice.randint(0, 3))
        for parts in itertools.product(*({w.part for w in way if w.part} for way in ways))
    }

    def suits(parts: Mapping[str, Part]) -> str:
        return weights[tuple(parts[f"n{i}"].id for i in range(3))]

    now = {f"n{i}": way[0].part for i, way in enumerate(ways) if way[0].part}
    better = working_better(now, ways, suits)
    found = [tuple(parts[f"n{i}"].id for i in range(3)) for parts in better]
    mine = tuple(part.id for part in now.values())
    assert [weights[ids].weight for ids in found] == sorted(weights[ids].weight for ids in found)
    assert set(found) == {
        ids
        for ids, why in weights.items()
        if why.weight < weights[mine].weight and sum(a != b for a, b in zip(ids, mine, strict=True)) < 3
    }


def test_a_need_without_a_part_hinders_nothing() -> None:
    """Where a need can only be left out no set serves every need: nothing is known of the others."""
    ways = _ways([2, 1])
    none = [[pick for pick in ways[0] if pick.part is None], ways[1]]
    assert WorkingSets.among(none, lambda _: "no").left([ways[1][0]])
