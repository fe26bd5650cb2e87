"""The attack on single vehicles on a few seeds; ``python -m tests.attack.vehicles`` runs many."""

from __future__ import annotations

import pytest

from tests.attack.vehicles import attack


@pytest.mark.parametrize("seed", [*range(0, 240, 10), 138])
def test_no_claim_contradicts_an_enumeration(seed: int) -> None:
    """Places, least rebuilds, refusals and ways in agree with a plain enumeration over the grid."""
    _, bad = attack(seed)
    assert bad == []
