"""The exact engine against published packing puzzles and theorems."""

import pytest

from fitplan.budget import Budget
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import Space, blocks
from fitplan.packing.engine.solve import solve
from tests.packing.engine_cases import CONWAY, SLOTHOUBER_GRAATSMA, cube


@pytest.mark.parametrize(
    ("sizes", "edge"),
    [
        pytest.param(SLOTHOUBER_GRAATSMA, 3, id="Slothouber-Graatsma"),
        pytest.param(CONWAY, 5, id="Conway"),
        pytest.param([(1, 2, 4)] * 26, 6, id="26 of 1x2x4"),
    ],
)
def test_published_packings_are_found(sizes, edge):
    """Berlekamp, Conway, Guy, Winning Ways vol. 4 (2004); Honsberger 1976, p. 69: these packings exist."""
    problem = blocks(sizes, cube(edge))
    answer = solve(problem)
    assert answer.status == "fits"
    assert check_placement(problem, answer.placements) == []


@pytest.mark.parametrize(
    ("sizes", "edge", "known"),
    [
        pytest.param([(1, 2, 4)] * 27, 6, "cannot_fit", id="27 of 1x2x4 in 6x6x6"),  # Honsberger 1976, p. 69
        pytest.param([(1, 2, 4)] * 42, 7, "cannot_fit", id="42 of 1x2x4 in 7x7x7"),
        pytest.param([(4, 5, 6)] * 27, 15, "fits", id="Hoffman"),  # The Mathematical Gardner, 1981
    ],
)
def test_what_is_too_hard_is_never_answered_wrongly(sizes, edge, known):
    """Puzzles of many equal blocks are beyond the searches: they are left open, not guessed."""
    answer = solve(blocks(sizes, cube(edge)), Budget(100_000_000))
    assert answer.status in (known, "not_decided")


def test_a_non_harmonic_brick_fills_a_box_that_is_no_multiple():
    """1×2×3 fills 1×5×6 (de Bruijn 1969): no weighting may refute it."""
    answer = solve(blocks([(1, 2, 3)] * 5, Space((0, 0, 0, 1, 5, 6))))
    assert answer.status == "fits"


def test_one_item_too_many_is_proved_by_volume():
    """Nine unit cubes do not go into a cube of eight."""
    answer = solve(blocks([(1, 1, 1)] * 9, cube(2)))
    assert answer.status == "cannot_fit"
    assert answer.proof is not None
    assert answer.proof.kind == "volume"


def test_the_same_seed_gives_the_same_places():
    """Two runs with one seed place everything alike."""
    problem = blocks(CONWAY, cube(5))
    first = solve(problem, seed=3)
    second = solve(problem, seed=3)
    assert first == second
