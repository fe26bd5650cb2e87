"""A search for the best choice that ends early: what it says then, beside the same search to its end."""

from __future__ import annotations

import random
from dataclasses import replace

from fitplan.budget import Budget
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice import Choosing, decide
from fitplan.planning.choice_search import PATIENCE, PackParts
from tests.attack.choices import random_train, shelf_packer

STEPS = 1_000_000


def _costly(pack: PackParts, work: int) -> PackParts:
    """Return the same packer with a price in counted steps."""

    def packed(vehicle: str, wanted: tuple[Wanted, ...]) -> Packing:
        return replace(pack(vehicle, wanted), work=work)

    return packed


def _decided(seed: int, work: int) -> Choosing:
    rng = random.Random(seed)
    train = random_train(rng, 3, 5)
    pack = _costly(shelf_packer(60.0, 8.0, 2), work)
    return decide(train, pack, lambda parts: "", budget=Budget(STEPS))


def test_what_ends_early_is_not_called_the_best_and_no_option_is_cheaper() -> None:
    """Ended by its patience or its budget a choice is not proved, and no row of the table costs less."""
    early = worse = 0
    for seed in range(14):
        whole, ended = _decided(seed, 0), _decided(seed, STEPS // 40)
        assert ended.best.score >= whole.best.score - 1e-9
        early += not ended.proved
        worse += ended.best.score > whole.best.score + 1e-9
        if ended.proved:
            assert ended.best.score <= whole.best.score + 1e-9
        rows = ended.runners_up(Budget(STEPS))
        assert min(row.score for row in rows) >= rows[0].score - 1e-6
    assert early > 3
    assert worse > 0


def test_the_search_ends_when_its_patience_does() -> None:
    """No more is spent than what led to the best, and the patience, and one more choice."""
    for seed in range(12):
        ended = _decided(seed, STEPS // 200)
        if not ended.proved:
            assert ended.search.work < STEPS
            assert ended.search.work > PATIENCE * STEPS


def test_what_fits_nowhere_is_refuted_however_early_the_search_ends() -> None:
    """That a part goes into no vehicle is learnt at once; choices put aside before count no more."""
    for seed in range(8):
        rng = random.Random(seed)
        train = random_train(rng, 4, 7)
        roomy, hopeless = shelf_packer(200.0, 20.0, 4), rng.choice(train.needs).name

        def pack(
            vehicle: str, wanted: tuple[Wanted, ...], roomy: PackParts = roomy, hopeless: str = hopeless
        ) -> Packing:
            if any(entry.need.name == hopeless for entry in wanted):
                return Packing(vehicle, "cannot fit", reason="too large", proof="by size")
            return roomy(vehicle, wanted)

        ended = decide(train, pack, lambda parts: "", budget=Budget(STEPS))
        assert hopeless in ended.best.left_out
        if set(ended.best.left_out) == {hopeless}:
            assert ended.verdict == "cannot fit"
