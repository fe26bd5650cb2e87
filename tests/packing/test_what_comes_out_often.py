"""In which order places are asked for so that what is exchanged often comes out, and which answer counts."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

import fitplan.packing.vehicle.reachable_packing as reachable_packing
from fitplan.model.needed import Exchange, Need
from fitplan.model.part import Access
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.solids import Place, pose_named
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.reachable_packing import MOST_SETS, ReachablePacker
from fitplan.packing.vehicle.seats import Wanted

from .small_trains import block

RARE = replace(block("r", (6.0, 6.0, 6.0)), access=(Access("screw", "screw", "+z", False),))
OFTEN = replace(
    block("o", (6.0, 6.0, 6.0)),
    access=(Access("screw", "screw", "+z", False), Access("plug", "switch", "+z", True)),
)
REMOVED = frozenset({"roof light"})


class Told:
    """A packer that answers what it is told, and keeps what it was asked."""

    def __init__(
        self, monkeypatch: pytest.MonkeyPatch, first: Packing, answers: list[Any], ways: Any = ()
    ) -> None:
        self.asked: list[Any] = []
        self.answers = answers
        monkeypatch.setattr(reachable_packing, "pack_with_rebuild", lambda *_: first)
        monkeypatch.setattr(
            ReachablePacker,
            "_with_ways_of_their_own",
            lambda own, best, wanted, removed: self.own_ways(ways, best),
        )
        monkeypatch.setattr(ReachablePacker, "_shut_in", lambda own, packing: shut_in(packing))
        self.ways_for: list[tuple[str, ...]] = []

    def own_ways(self, ways: Any, best: Packing) -> Any:
        self.ways_for.append(best.shut_in)
        return iter(ways)

    def pack_as_it_is(self, name: str, wanted: Any, removed: Any, *, proofs: bool, **more: Any) -> Packing:
        assert (name, removed, proofs) == ("v", REMOVED, False)
        self.asked.append({**more, "wanted": "".join(entry.need.name for entry in wanted)})
        return self.answers.pop(0)


def answer(*shut: str, verdict: Any = "fits", work: int = 0) -> Packing:
    """Parts that are shut in are told by where a part of that name lies: at 1."""
    places = tuple(
        Placement(
            name, OFTEN, "v", Place(pose_named("+x+y+z"), (float(name in shut), float(work), 0.0)), "the body"
        )
        for name in "abc"
    )
    return Packing("v", verdict, places)


def shut_in(packing: Packing) -> tuple[str, ...]:
    return tuple(place.need for place in packing.placements if place.place.offset[0] == 1.0)


FIRST = replace(
    answer("a", "b"), verdict="fits after a rebuild", rebuild=Rebuild("v", ("roof light",), (), 2.0, 2.0, "")
)
"""What is packed first: two parts are shut in, one brick comes out."""


def packed(
    monkeypatch: pytest.MonkeyPatch,
    answers: list[Packing],
    *,
    first: Packing = FIRST,
    ways: Any = (),
    parts_out: int = 0,
    parts: Any = (OFTEN, OFTEN, RARE),
) -> tuple[Packing, list[Any], list[tuple[str, ...]]]:
    told = Told(monkeypatch, first, list(answers), ways)
    # Each may have a leave of its own; the widest counts.
    leaves = (Exchange(parts_out=parts_out), Exchange(), Exchange())
    wanted = tuple(
        Wanted(Need(name, (part,), exchange=leave), part)
        for name, part, leave in zip("abc", parts, leaves, strict=True)
    )
    train: Any = SimpleNamespace(needs=tuple(entry.need for entry in wanted))
    packer: Any = told
    return ReachablePacker(train, packer).pack("v", wanted), told.asked, told.ways_for


def outs(asked: list[Any]) -> list[str]:
    return ["".join(sorted(one["come_out"])) for one in asked if "come_out" in one]


def test_what_does_not_fit_or_is_not_shut_in_is_handed_back_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    for first in (answer(), answer("a", "b", verdict="cannot fit"), answer("a", verdict="not decided")):
        found, asked, _ = packed(monkeypatch, [], first=first)
        assert found is first
        assert asked == []


def test_all_that_is_exchanged_then_what_is_shut_in_then_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the rare part shut in: all that is used often first, also where one access of two is."""
    first = replace(FIRST, placements=answer("b", "c").placements)
    found, asked, ways = packed(monkeypatch, [first] * 4, first=first)
    assert outs(asked) == ["ab", "bc", "b", "c"]
    assert (found.shut_in, ways) == (("b", "c"), [("b", "c")])
    assert found.placements == first.placements
    assert (found.verdict, found.cost) == ("fits after a rebuild", 2.0)
    # The same question is not put twice.
    _, asked, _ = packed(monkeypatch, [FIRST] * 3)
    assert outs(asked) == ["ab", "a", "b"]


@pytest.mark.parametrize("turn", range(3))
def test_the_search_ends_with_the_first_answer_in_which_nothing_is_shut_in(
    monkeypatch: pytest.MonkeyPatch, turn: int
) -> None:
    good = answer(work=7)
    found, asked, ways = packed(monkeypatch, [*[answer("a", "b")] * turn, good])
    assert len(asked) == turn + 1
    assert (found.shut_in, found.placements) == ((), good.placements)
    assert found.rebuild is not None
    assert (found.verdict, found.rebuild.remove, ways) == (FIRST.verdict, ("roof light",), [()])


def test_only_what_shuts_in_fewer_counts_and_the_first_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    same, one, other = answer("b", "c", work=1), answer("a", work=2), answer("b", work=3)
    found, asked, ways = packed(monkeypatch, [same, one, other])
    assert (found.shut_in, found.placements, len(asked), ways) == (("a",), one.placements, 3, [("a",)])
    found, _, _ = packed(monkeypatch, [same, same, same])
    assert (found.shut_in, found.placements) == (("a", "b"), FIRST.placements)
    # What does not fit is no answer.
    none = answer(verdict="not decided")
    found, asked, _ = packed(monkeypatch, [none, none, one])
    assert (found.shut_in, found.placements, len(asked)) == (("a",), one.placements, 3)


def test_ways_of_their_own_come_after_and_only_what_shuts_in_fewer_counts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held: Any = ("here",), ("alone",)
    same, one, none = answer("b", "c", work=1), answer("a", work=2), answer(verdict="not decided")
    found, asked, _ = packed(monkeypatch, [same] * 3 + [none, one], ways=held)
    assert [more.get("held") for more in asked] == [None, None, None, ("here",), ("alone",)]
    assert (found.shut_in, found.placements) == (("a",), one.placements)
    found, _, _ = packed(monkeypatch, [same] * 3 + [one, answer("b", work=4)], ways=held)
    assert (found.shut_in, found.placements) == (("a",), one.placements)
    found, _, _ = packed(monkeypatch, [same] * 3 + [same, same], ways=held)
    assert (found.shut_in, found.placements) == (("a", "b"), FIRST.placements)


def test_as_many_others_lie_in_the_way_as_the_user_allows(monkeypatch: pytest.MonkeyPatch) -> None:
    """One part out: the two that are shut in are packed first, the third where there is room."""
    monkeypatch.setattr(reachable_packing, "reserved_way", lambda place, ways: (place, ways))
    same, alone, good = answer("a", "b"), answer("a", work=5), answer(work=6)
    found, asked, _ = packed(monkeypatch, [same] * 3 + [alone, good], parts_out=1)
    assert asked[3] == {"come_out": frozenset("ab"), "wanted": "ab"}
    assert asked[4] == {"held": tuple((place, ()) for place in alone.placements), "wanted": "abc"}
    assert (found.shut_in, found.placements) == ((), good.placements)
    # Without leave nothing of this is asked; nor where what is shut in finds no room alone.
    assert len(packed(monkeypatch, [same] * 3)[1]) == 3
    found, asked, _ = packed(monkeypatch, [same] * 3 + [answer(verdict="not decided")], parts_out=1)
    assert (found.shut_in, len(asked)) == (("a", "b"), 4)
    # As many as before are no gain, and what does not fit is none.
    for other in (answer("b", "c"), answer(verdict="cannot fit")):
        found, asked, _ = packed(monkeypatch, [same] * 3 + [alone, other], parts_out=1)
        assert (found.shut_in, found.placements, len(asked)) == (("a", "b"), FIRST.placements, 5)


def test_sets_that_lie_in_the_way_are_tried_small_ones_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """One part of three is shut in, two may come out: each of the others, then both; the best counts."""
    monkeypatch.setattr(reachable_packing, "reserved_way", lambda place, ways: place)
    first = replace(FIRST, placements=answer("a").placements)
    same = answer("a")
    found, asked, _ = packed(monkeypatch, [same] * 2 + [same] * 6, first=first, parts_out=2)
    assert [more["wanted"] for more in asked[2:]] == ["ac", "abc", "ab", "abc", "a", "abc"]
    assert found.shut_in == ("a",)
    good = answer(work=3)
    found, asked, _ = packed(monkeypatch, [same] * 2 + [same, good], first=first, parts_out=2)
    assert (found.shut_in, found.placements, len(asked)) == ((), good.placements, 4)
    none = answer(verdict="not decided")
    found, asked, _ = packed(monkeypatch, [same] * 2 + [none, same, good], first=first, parts_out=2)
    assert [more["wanted"] for more in asked[2:]] == ["ac", "ab", "abc"]
    assert (found.shut_in, found.placements) == ((), good.placements)
    _, asked, _ = packed(monkeypatch, [same] * 2 + [none] * 2, first=first, parts_out=1)
    assert [more["wanted"] for more in asked[2:]] == ["ac", "ab"]


def test_no_more_than_some_sets_are_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of eight others up to two: 8 alone and 28 pairs, of which the first twelve."""
    needs = tuple(Need(name, (OFTEN,), exchange=Exchange(parts_out=2)) for name in "abcdefghi")
    wanted = tuple(Wanted(need, OFTEN) for need in needs)
    told = Told(monkeypatch, FIRST, [answer(verdict="not decided")] * 40)
    train: Any = SimpleNamespace(needs=needs)
    packer: Any = told
    ReachablePacker(train, packer)._with_some_on_top(replace(FIRST, shut_in=("a",)), wanted, REMOVED)
    left = ["".join(sorted(set("abcdefghi") - set(more["wanted"]))) for more in told.asked]
    assert left == [*"bcdefghi", "bc", "bd", "be", "bf"]
    assert len(left) == MOST_SETS
