"""The exact engine against published packing puzzles and theorems."""

import pytest

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
    ("sizes", "edge"),
    [
        pytest.param([(1, 2, 4)] * 27, 6, id="27 of 1x2x4 in 6x6x6"),  # Honsberger 1976, p. 69
        pytest.param([(1, 2, 4)] * 125, 10, id="125 of 1x2x4 in 10x10x10"),  # de Bruijn 1969
        pytest.param([(1, 1, 4)] * 250, 10, id="250 of 1x1x4 in 10x10x10"),  # de Bruijn 1969
    ],
)
def test_published_impossibilities_are_proved_by_weights(sizes, edge):
    """The volume allows it, a weighting does not; the proof names two ways in which it was summed."""
    answer = solve(blocks(sizes, cube(edge)))
    assert answer.status == "cannot_fit"
    assert answer.proof is not None
    assert answer.proof.kind == "weights"
    assert len(answer.proof.confirmations) == 2


def test_hoffmans_blocks_are_found():
    """Hoffman, in The Mathematical Gardner (1981): 27 blocks 4×5×6 go into a cube of side 15."""
    problem = blocks([(4, 5, 6)] * 27, cube(15))
    answer = solve(problem)
    assert answer.status == "fits"
    assert check_placement(problem, answer.placements) == []


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
