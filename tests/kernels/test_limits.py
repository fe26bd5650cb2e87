"""Every limit of a kernel ends in giving up: lowered to next to nothing, it leaves the answer open."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

import fitplan.kernels
import fitplan.packing.engine.free_offsets as free_offsets
import fitplan.packing.engine.search_places as search_places
import fitplan.packing.engine.search_sides as search_sides
from fitplan.budget import Budget
from fitplan.kernels import Kernel, load
from fitplan.packing.engine.free_offsets import kinds_of, subtract
from fitplan.packing.engine.problem import (
    Item,
    ItemClearance,
    PackingProblem,
    Shape,
    Space,
    Variant,
    anywhere,
    blocks,
)
from fitplan.packing.engine.search_places import OrderSearch, QuickSearch
from fitplan.packing.engine.search_sides import SidesSearch
from fitplan.packing.engine.solve import solve

KERNELS = Path(fitplan.kernels.__file__).parent
LIMITS = [
    (source.stem, name)
    for source in sorted(KERNELS.glob("*.c"))
    for name in re.findall(r"^LIMIT\((\w+),", source.read_text(encoding="utf-8"), re.MULTILINE)
]


@contextmanager
def lowered(monkeypatch: pytest.MonkeyPatch, name: str, to: int) -> Iterator[None]:
    """While this lasts, every kernel that has a limit of this name is loaded with a lower one."""
    plain = Kernel.__init__

    def init(kernel: Kernel, source: str) -> None:
        plain(kernel, source)
        if (source, name) in LIMITS:
            kernel.call(f"limit_{name}", to)

    with monkeypatch.context() as patch:
        patch.setattr(Kernel, "__init__", init)
        yield


def too_many() -> PackingProblem:
    """Six blocks that leave just the three cells of a diagonal (Slothouber–Graatsma), and a bar for those."""
    return blocks([(2, 2, 1)] * 6 + [(3, 1, 1)], Space((0, 0, 0, 3, 3, 3)))


def real_kind() -> PackingProblem:
    """Four parts of two boxes with room before a plug, in a space that holds fewer."""
    shape = Shape(((0, 0, 0, 6, 4, 2), (0, 0, 2, 2, 4, 3)), (ItemClearance((6, 1, 0, 8, 3, 2)),))
    space = Space((0, 0, 0, 13, 10, 3), ((4, 3, 0, 6, 5, 3),))
    variant = Variant("only", shape, anywhere(shape, space.hull))
    turned = Shape(((0, 0, 0, 4, 6, 2), (0, 0, 2, 4, 2, 3)), (ItemClearance((1, 6, 0, 3, 8, 2)),))
    other = Variant("turned", turned, anywhere(turned, space.hull))
    return PackingProblem((space,), tuple(Item(f"part {k}", (variant, other)) for k in range(4)))


@pytest.mark.parametrize("make", [too_many, real_kind])
def test_without_lower_limits_both_are_proved(make) -> None:
    """The cases that the tests below ask are impossible, and that is proved in two ways."""
    answer = solve(make())
    assert answer.status == "cannot_fit"
    assert answer.proof is not None
    assert answer.proof.kind == "search"
    assert len(set(answer.proof.confirmations)) == 2


def test_all_limits_are_known() -> None:
    """Each kernel's limits are exported, and each can only be lowered."""
    assert LIMITS
    for source, name in LIMITS:
        load(source).call(f"limit_{name}", 1)


@pytest.mark.parametrize("to", [0, 1, 2, 3])
@pytest.mark.parametrize(
    ("module", "name"),
    [
        (search_places, "MOST_LEVELS"),
        (search_places, "MOST_EDGES"),
        (search_places, "ARENA_BOXES"),
        (search_sides, "MOST_LEVELS"),
        (search_sides, "MOST_NUMBERS"),
        (search_sides, "MOST_ITEMS"),
        (search_sides, "MOST_LENGTH"),
        (free_offsets, "MOST_PIECES"),
    ],
)
@pytest.mark.parametrize("make", [too_many, real_kind])
def test_a_limit_of_the_callers_ends_in_not_decided(monkeypatch, make, module, name: str, to: int) -> None:
    """Where a buffer holds next to nothing, nothing is proved."""
    free_offsets._pieces.cache_clear()
    monkeypatch.setattr(module, name, to)
    answer = solve(make(), Budget(30_000_000))
    free_offsets._pieces.cache_clear()
    if name == "ARENA_BOXES":
        assert answer.status == "cannot_fit"  # it belongs to the quick search, which proves nothing anyway
    elif name == "MOST_PIECES" and (to >= 2 or make is too_many):
        assert answer.status == "cannot_fit"  # that many boxes of offsets are enough, or none are cut
    else:
        assert answer.status == "not_decided"
        assert answer.proof is None


@pytest.mark.parametrize("to", [0, 1, 3])
@pytest.mark.parametrize("name", ["items", "item_most"])
@pytest.mark.parametrize("make", [too_many, real_kind])
def test_a_limit_of_a_packing_kernel_ends_in_not_decided(monkeypatch, make, name: str, to: int) -> None:
    """A kernel that holds fewer items than there are refuses them, and the answer is open."""
    with lowered(monkeypatch, name, to):
        answer = solve(make(), Budget(30_000_000))
    assert answer.status == "not_decided"
    assert answer.proof is None


@pytest.mark.parametrize("search", [OrderSearch, SidesSearch])
def test_a_search_that_gave_up_stays_given_up(monkeypatch, search) -> None:
    """Asked again and again, a search without room for its levels never says that it has seen everything."""
    module = search_places if search is OrderSearch else search_sides
    for levels in range(8):
        monkeypatch.setattr(module, "MOST_LEVELS", levels)
        tried = search(kinds_of(too_many()))
        answers = [tried.run(50_000) for _ in range(20)]
        if tried.overrun:
            assert False not in answers
        else:
            assert answers[-1] is False


def test_edges_that_run_out_one_by_one(monkeypatch) -> None:
    """Whatever number of edges is held, the search by order says the truth or that it gave up."""
    for edges in range(60):
        monkeypatch.setattr(search_places, "MOST_EDGES", edges)
        for make in (too_many, real_kind):
            tried = OrderSearch(kinds_of(make()))
            found = None
            for _ in range(40):
                found = tried.run(1_000_000)
                if found is not None or tried.overrun:
                    break
            assert tried.overrun or found is False
            assert not (tried.overrun and found is False)


def test_the_quick_search_without_room_finds_nothing(monkeypatch) -> None:
    """An arena too small for the first lists gives no places, and writes nowhere."""
    monkeypatch.setattr(search_places, "ARENA_BOXES", 0)
    search = QuickSearch(kinds_of(blocks([(1, 1, 1)] * 3, Space((0, 0, 0, 3, 1, 1)))))
    search._arena_size = 1
    assert search.run() is None


def crowded() -> PackingProblem:
    """Unequal parts of three boxes with room before a plug, among strewn obstacles."""
    rng = np.random.default_rng(5)
    low = rng.integers(0, 28, (40, 3))
    obstacles = tuple(
        (*at, *(at + size)) for at, size in zip(low.tolist(), rng.integers(1, 4, (40, 3)), strict=True)
    )
    space = Space((0, 0, 0, 30, 30, 30), tuple(tuple(int(n) for n in box) for box in obstacles))
    items = []
    for k in range(4):
        boxes = ((0, 0, 0, 7, 5, 2), (0, 0, 2, 2, 5, 3 + k), (5, 0, 2, 7, 2, 3))
        shape = Shape(boxes, (ItemClearance((7, 1, 0, 9 + k, 3, 2)),))
        items.append(Item(f"part {k}", (Variant("only", shape, anywhere(shape, space.hull)),)))
    return PackingProblem((space,), tuple(items))


def test_boxes_by_column_and_in_rows_come_to_the_same(monkeypatch) -> None:
    """Free offsets by column, in rows, or by column till they grow too many: places and steps agree."""

    def told() -> list[object]:
        search = QuickSearch(kinds_of(crowded()), seed=3)
        found = [search.run() for _ in range(12)]
        return [*found, search.best, search.steps]

    by_column = told()
    assert sum(len(kind.variants[0].pieces) for kind in kinds_of(crowded())) > 4 * 64
    for most in (0, 20, 64, 150):
        with lowered(monkeypatch, "in_column", most):
            assert told() == by_column


def test_free_offsets_beyond_their_room_are_refused(monkeypatch) -> None:
    """More boxes than are held is an error, before anything is written past the end."""
    closed = np.array([[0, 0, 0, 9, 9, 9]] * 3, dtype=np.int32)
    monkeypatch.setattr(free_offsets, "MOST_PIECES", 2)
    with pytest.raises(OverflowError, match="too many boxes"):
        subtract(closed, np.array([[2, 2, 2, 5, 5, 5]], dtype=np.int32))
    with pytest.raises(OverflowError, match="too many boxes"):
        subtract(closed[:1], np.array([[2, 2, 2, 5, 5, 5]], dtype=np.int32))
