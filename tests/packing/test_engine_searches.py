"""Each complete search on its own: right where brute force can tell, never against a packing that exists."""

import random
from functools import cache

import pytest

from fitplan.packing.engine.free_offsets import kinds_of
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import Space, blocks
from fitplan.packing.engine.search_places import OrderSearch, QuickSearch
from fitplan.packing.engine.search_sides import SidesSearch
from fitplan.packing.engine.solve import WISH_DOUBTED, WISH_RUNS, solve
from tests.packing.engine_cases import can_pack, hidden_cut

STEPS = 40_000_000
MAKERS = {"order": OrderSearch, "sides": SidesSearch}


def small_case(seed):
    """A few small blocks in a small cavity with some obstacles, near to what the volume allows."""
    rng = random.Random(seed)
    hull = [rng.randint(2, 4) for _ in range(3)]
    obstacles = []
    for _ in range(rng.choice((0, 0, 1, 2))):
        low = [rng.randint(0, edge - 1) for edge in hull]
        high = [rng.randint(at + 1, edge) for at, edge in zip(low, hull, strict=True)]
        obstacles.append((*low, *high))
    space = Space((0, 0, 0, *hull), tuple(obstacles))
    sizes = []
    volume = hull[0] * hull[1] * hull[2]
    while True:
        size = tuple(rng.randint(1, 3) for _ in range(3))
        volume -= size[0] * size[1] * size[2]
        if volume < 0 or len(sizes) >= 5:
            break
        sizes.append(size)
        if rng.random() < 0.3:
            sizes.append(size)
            volume -= size[0] * size[1] * size[2]
    return blocks(sizes or [(1, 1, 1)], space)


@cache
def fits_by_brute_force(seed):
    """Tell whether a small case fits, by trying every place."""
    return can_pack(small_case(seed))


def run(search):
    """Let a search run for a while."""
    for _ in range(10):
        found = search.run(STEPS // 10)
        if found is not None:
            return found
    return None


@pytest.mark.parametrize("name", list(MAKERS))
def test_small_cases_agree_with_brute_force(name):
    """On seeded small cavities a search that ends says what trying every place says."""
    decided = {True: 0, False: 0}
    for seed in range(120):
        problem = small_case(seed)
        kinds = kinds_of(problem)
        if not all(kind.variants for kind in kinds):
            continue
        found = run(MAKERS[name](kinds))
        if found is None:
            continue
        if found:
            assert check_placement(problem, found) == []
        assert bool(found) == fits_by_brute_force(seed), f"seed {seed}"
        decided[bool(found)] += 1
    assert decided[True] > 20
    assert decided[False] >= 5


@pytest.mark.parametrize("shape", ["box", "L", "U"])
@pytest.mark.parametrize("name", list(MAKERS))
def test_a_hidden_cut_is_never_refuted(name, shape):
    """Seeded guillotine cuts fit by construction: no search may end without a packing."""
    found_some = 0
    for seed in range(8):
        problem = hidden_cut(5 + seed % 4, seed, shape)
        found = run(MAKERS[name](kinds_of(problem)))
        assert found is not False
        if found:
            assert check_placement(problem, found) == []
            found_some += 1
    assert found_some >= 4


def test_the_quick_search_keeps_its_best():
    """Where not all items fit, the most that were laid together are kept, and they are a valid packing."""
    problem = blocks([(2, 2, 2)] * 3, Space((0, 0, 0, 4, 2, 2)))
    search = QuickSearch(kinds_of(problem))
    assert [search.run() for _ in range(3)] == [None, None, None]
    assert len(search.best) == 2
    assert check_placement(problem, search.best, partial=True) == []


def test_a_wish_that_cannot_be_met_is_soon_given_up(monkeypatch):
    """Once the quick search has been to each corner in vain, a complete one that ends spares the other runs.

    Whether a case can be met is known from trying every place; what can be met is looked for to the end.
    """
    runs = []
    quick = QuickSearch.run

    def counted(search):
        found = quick(search)
        runs.append(found is not None)
        return found

    monkeypatch.setattr(QuickSearch, "run", counted)
    given_up = 0
    for seed in range(120):
        runs.clear()
        answer = solve(small_case(seed), proofs=False, quick=True)
        if fits_by_brute_force(seed):
            assert answer.status == "fits" or len(runs) == WISH_RUNS
        else:
            assert answer.status in ("not_decided", "cannot_fit")
            assert len(runs) in (0, WISH_DOUBTED)
            given_up += len(runs) == WISH_DOUBTED
    assert given_up >= 5
