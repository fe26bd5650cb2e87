"""What a packer asks of the searches, in which order, what it remembers, and what it says then."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

import fitplan.packing.vehicle.pack as pack
from fitplan.model.needed import Need
from fitplan.model.solids import Box
from fitplan.packing.vehicle.pack import NEARLY_TENTHS, Packer, _Answered
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shortage import PackingFailure

from .small_trains import block, hollow

PART = block("p", (6.0, 6.0, 6.0))
A, B, C = (Wanted(Need(name, (PART,)), PART) for name in "abc")
BODY = hollow("v", 6, 6, 6)


class Noted:
    """What `Packer._pack` was asked, and what it answers."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, verdict: Any) -> None:
        self.asked: list[Any] = []
        self.laid = 0
        self.verdict = verdict
        monkeypatch.setattr(Packer, "_pack", lambda own, *more: self.pack(*more))
        monkeypatch.setattr(pack, "laid_places", self.lay)

    def pack(self, cavity: Any, wanted: Any, proofs: bool, come_out: Any, held: Any, _: Any) -> _Answered:
        names = "".join(entry.need.name for entry in wanted)
        self.asked.append((cavity.name, names, set(cavity.removed), proofs, set(come_out), held))
        packing = Packing(cavity.name, self.verdict, work=len(self.asked))
        laid: Any = ("problem", {"p": "lies"}) if self.verdict == "fits" else None
        return _Answered(packing, laid)

    def lay(self, cavity: Any, wanted: Any, problem: Any, placed: Any) -> Any:
        assert (problem, placed) == ("problem", {"p": "lies"})
        self.laid += 1
        return tuple(entry.need.name for entry in wanted)


def two() -> Packer:
    return Packer({"v": BODY, "w": hollow("w", 6, 6, 6)})


def test_what_fits_is_asked_once_with_or_without_proofs_and_in_any_order(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for first in (True, False):
        noted, packer = Noted(monkeypatch, "fits"), two()
        for proofs in (first, not first):
            for wanted in ((A, B), (B, A)):
                assert packer.without_places("v", wanted, proofs=proofs).placements == ()
                assert noted.laid == 0
        assert noted.asked == [("v", "ab", set(), first, set(), ())]
        found = packer.pack_as_it_is("v", (B, A))
        assert (found.verdict, found.placements, found.work) == ("fits", ("a", "b"), 1)
        # Places are laid once, and told when they are not asked for no more than before.
        for proofs in (True, False):
            assert packer.pack_as_it_is("v", (A, B), proofs=proofs).placements == ("a", "b")
            assert packer.without_places("v", (A, B), proofs=proofs).placements == ()
        assert (noted.laid, len(noted.asked)) == (1, 1)


def test_what_is_open_is_asked_again_for_a_proof(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    noted, packer = Noted(monkeypatch, "not decided"), two()
    turns = (False, False, True, True, False)
    assert [packer.pack_as_it_is("v", (A,), proofs=proofs).work for proofs in turns] == [1, 1, 2, 2, 2]
    assert [asked[3] for asked in noted.asked] == [False, True]
    assert noted.laid == 0


def test_each_question_has_an_answer_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    noted, packer = Noted(monkeypatch, "fits"), two()
    held: Any = ("way",)
    other = Wanted(A.need, block("q", (6.0, 6.0, 6.0)))
    for _ in range(2):
        packer.pack_as_it_is("v", (A,))
        packer.pack_as_it_is("w", (A,))
        packer.pack_as_it_is("v", (B,))
        packer.pack_as_it_is("v", (other,))
        packer.pack_as_it_is("v", (A,), frozenset({"lid"}))
        packer.pack_as_it_is("v", (A,), come_out=frozenset("a"))
        packer.pack_as_it_is("v", (A,), held=held)
    assert noted.asked == [
        ("v", "a", set(), True, set(), ()),
        ("w", "a", set(), True, set(), ()),
        ("v", "b", set(), True, set(), ()),
        ("v", "a", set(), True, set(), ()),
        ("v", "a", {"lid"}, True, set(), ()),
        ("v", "a", set(), True, {"a"}, ()),
        ("v", "a", set(), True, set(), held),
    ]


@pytest.mark.parametrize("demand", ["way in", "footing", "wires"])
def test_what_is_demanded_later_is_asked_anew_in_that_vehicle_alone(
    monkeypatch: pytest.MonkeyPatch, demand: str
) -> None:
    """What a copy was told, and what it had been told before, is its own."""
    noted, packer = Noted(monkeypatch, "fits"), two()

    def asked(one: Packer) -> str:
        before = len(noted.asked)
        for name in "vw":
            one.pack_as_it_is(name, (A,))
        return "".join(name for name, *_ in noted.asked[before:])

    assert asked(packer) == "vw"
    other = packer.copy()
    assert (asked(packer), asked(other)) == ("", "")
    cavities = {name: packer.cavity(name) for name in "vw"}
    packer._at_once = {("v", frozenset()): "known", ("w", frozenset()): "known"}  # type: ignore[dict-item]
    if demand == "way in":
        packer.demand_way_in("v", "a")
    elif demand == "footing":
        packer.demand_footing("v", "a")
    else:
        packer.keep_for_wires("v", [Box((8, 8, 19.2), (10, 10, 21.2))])
        assert packer._kept == {"v": ((80, 80, 192, 100, 100, 212),)}
        packer.keep_for_wires("v", [Box((8, 8, 19.2), (10, 10, 21.2)), Box((9, 8, 19.2), (10, 10, 21.2))])
        assert packer._kept == {"v": ((80, 80, 192, 100, 100, 212), (90, 80, 192, 100, 100, 212))}
        assert list(packer._at_once) == [("w", frozenset())]
    assert (asked(packer), asked(other), asked(packer)) == ("v", "", "")
    assert packer.cavity("w") is cavities["w"]
    assert (packer.cavity("v") is cavities["v"]) == (demand != "wires")
    again = packer.copy()
    assert (again._ways_in, again._footings, again._kept) == (packer._ways_in, packer._footings, packer._kept)
    assert (other._ways_in, other._footings, other._kept) == (set(), set(), {})


class Script:
    """Answers of `solve`, in turn; what was asked is told by words."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, answers: list[Any], *, access: bool = True) -> None:
        self.asked: list[str] = []
        self.answers: Iterator[Any] = iter(answers)

        def problem(
            own: Any, cavity: Any, wanted: Any, rounding: str, *, access_too: bool = False, **more: Any
        ) -> str:
            return f"{rounding}{' access' if more.get('access') and access else ''}"

        def solved(asked: str, budget: Any, *, seed: int, proofs: bool = True, quick: bool = False) -> Any:
            self.asked.append(f"{asked}{' proofs' if proofs else ''}{' quick' if quick else ''}")
            return next(self.answers)

        monkeypatch.setattr(Packer, "_problem", problem)
        monkeypatch.setattr(Packer, "seats", lambda *_: ("a seat",))
        monkeypatch.setattr(Packer, "_as_demanded", lambda own, cavity, sure, wanted: sure)
        monkeypatch.setattr(
            pack, "with_shafts", lambda vehicle, removed, sure, wanted, come_out: f"{sure} shafts"
        )
        monkeypatch.setattr(pack, "with_ways_open", lambda sure, held: f"{sure} held")
        monkeypatch.setattr(pack, "solve", solved)
        monkeypatch.setattr(Packer, "pack_roomily", self.roomily)
        monkeypatch.setattr(Packer, "_missing_for_sure", lambda *_: "so much is missing as drawn")
        monkeypatch.setattr(Packer, "without_places", self.alone)
        self.loose: Packing | None = None
        self.alones = {name: Packing("v", "fits", work=number) for number, name in enumerate("abc", 1)}

    def roomily(
        self, name: str, wanted: Any, removed: Any, wishes: Any, *, come_out: Any, seed: int, insist: bool
    ) -> Any:
        assert (name, insist, wishes.nets) == ("v", True, ())
        self.asked.append("loose")
        return self.loose

    def alone(self, name: str, wanted: Any, removed: Any, *, proofs: bool) -> Packing:
        return self.alones[wanted[0].need.name]


def answer(status: str, work: int, **more: Any) -> Any:
    plain = {
        "placements": {"p": status},
        "gap": f"gap of {work}",
        "late": False,
        "proof": None,
        "unconfirmed": None,
    }
    return SimpleNamespace(status=status, work=work, **{**plain, **more})


FITS, OPEN = answer("fits", 100), answer("not_decided", 1000)


def asked(*wanted: Wanted, proofs: bool = True, come_out: str = "", held: Any = ()) -> _Answered:
    packer = two()
    return packer._pack(packer.cavity("v"), wanted, proofs, frozenset(come_out), held)


def test_first_with_room_for_plugs_then_without(monkeypatch: pytest.MonkeyPatch) -> None:
    script = Script(monkeypatch, [FITS])
    found = asked(A)
    assert script.asked == ["outward access quick"]
    assert (found.packing.verdict, found.packing.work, found.laid) == (
        "fits",
        100,
        ("outward access", {"p": "fits"}),
    )
    script = Script(monkeypatch, [OPEN, FITS])
    found = asked(A)
    assert script.asked == ["outward access quick", "outward"]
    assert (found.packing.verdict, found.packing.work, found.laid) == (
        "fits",
        1100,
        ("outward", {"p": "fits"}),
    )
    # Without room for plugs to ask for it is one question.
    script = Script(monkeypatch, [FITS], access=False)
    assert asked(A).packing.work == 100
    assert script.asked == ["outward"]
    script = Script(monkeypatch, [FITS], access=False)
    asked(A, come_out="a")
    assert script.asked == ["outward shafts quick"]
    script = Script(monkeypatch, [FITS], access=False)
    asked(A, held=("way",))
    assert script.asked == ["outward held quick"]


def test_of_several_parts_each_is_asked_alone_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """And what does not go in alone is what is told; work is added up."""
    script = Script(monkeypatch, [FITS], access=False)
    assert asked(A, B, C).packing.work == 1 + 2 + 3 + 100
    script = Script(monkeypatch, [])
    script.alones["b"] = Packing("v", "cannot fit", reason="too long", work=20)
    found = asked(A, B, C).packing
    assert (found.verdict, found.reason, found.work, script.asked) == ("cannot fit", "too long", 21, [])
    # A part alone is not asked about twice.
    script = Script(monkeypatch, [FITS], access=False)
    script.alones["a"] = Packing("v", "cannot fit")
    assert asked(A).packing.verdict == "fits"


def test_what_the_search_gives_up_is_laid_loosely_where_there_are_several(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    script = Script(monkeypatch, [OPEN], access=False)
    script.loose = Packing("v", "fits", work=7)
    found = asked(A, B)
    assert script.asked == ["outward", "loose"]
    assert (found.packing.verdict, found.packing.work, found.laid) == ("fits", 1 + 2 + 1000 + 7, None)
    for wanted, held, unconfirmed in (((A,), (), None), ((A, B), ("way",), None), ((A, B), (), "a proof")):
        script = Script(monkeypatch, [answer("not_decided", 1000, unconfirmed=unconfirmed)], access=False)
        script.loose = Packing("v", "fits", work=7)
        found = asked(*wanted, held=held, proofs=False)
        assert "loose" not in script.asked
        work = 1000 + (3 if len(wanted) == 2 else 0)
        assert (found.packing.verdict, found.packing.reason, found.packing.work) == (
            "not decided",
            "gap of 1000",
            work,
        )


@pytest.mark.parametrize("late", [(False, False), (True, False), (False, True)])
def test_a_proof_is_of_the_problem_with_all_play(
    monkeypatch: pytest.MonkeyPatch, late: tuple[bool, bool]
) -> None:
    first = answer("not_decided", 1000, late=late[0])
    proof = SimpleNamespace(kind="a flood", confirmations=("one", "two"), text="too wide.")
    script = Script(monkeypatch, [first, answer("cannot_fit", 50, proof=proof)], access=False)
    found = asked(A).packing
    assert script.asked == ["outward", "inward proofs"]
    assert (found.verdict, found.reason, found.work) == ("cannot fit", "too wide", 1050)
    assert found.proof == "a flood; confirmed: one, two"
    # Without a proof it stays open, and so it does where the play of bricks may do.
    for status, wanted, words in (
        ("cannot_fit", (A,), "gap of 50"),
        ("not_decided", (A,), "gap of 50"),
        ("fits", (A,), "so much is missing as drawn; between real bricks"),
        ("fits", (A, B), "they find no room together as drawn; between real bricks"),
    ):
        Script(monkeypatch, [first, answer(status, 50, late=late[1])], access=False)
        found = asked(*wanted).packing
        assert (found.verdict, found.late) == ("not decided", any(late))
        assert found.reason.startswith(words)
    Script(monkeypatch, [first, answer("not_decided", 50, gap="")], access=False)
    assert asked(A).packing.reason == "gap of 1000"


@pytest.mark.parametrize("missing", [1, NEARLY_TENTHS, NEARLY_TENTHS + 1, None])
def test_a_little_is_told_as_missing_and_more_is_not(
    monkeypatch: pytest.MonkeyPatch, missing: int | None
) -> None:
    """A millimetre along one axis at the most; what lacks its seat is told that."""
    packer = two()
    misses = (
        []
        if missing is None
        else [SimpleNamespace(missing=missing, axis="y"), SimpleNamespace(missing=1, axis="x")]
    )
    monkeypatch.setattr(pack, "shortfalls", lambda sure, item, only_least: misses)
    monkeypatch.setattr(pack, "no_seat", lambda *_, play: None)
    told = packer._missing_for_sure(packer.cavity("v"), A)
    if missing is None or missing > 10:
        assert told == "it finds no room as drawn"
    else:
        assert told == f"{missing / 10:.1f} mm of width are missing as drawn"
    monkeypatch.setattr(Packer, "seats", lambda *_: ())
    assert (
        packer._missing_for_sure(packer.cavity("v"), A) == "its seat lies between two tenths of a millimetre"
    )
    for short, words in (((0.0, 0.3), "its lens is wide as drawn"), ((0.0, 0.0), "its seat lies between")):
        seat = SimpleNamespace(missing_mm=short, text="its lens is wide")
        monkeypatch.setattr(pack, "no_seat", lambda *_, play, seat=seat: seat if play == 0.0 else None)
        assert packer._missing_for_sure(packer.cavity("v"), A).startswith(words)


def test_what_would_be_enough_is_told_of_one_part_that_looks_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    packer = two()
    plain, short = PackingFailure("it has no place"), PackingFailure("1 mm is missing", 1.0, "width")
    looks = replace(A, need=replace(A.need, looks=("v", "pane")))
    monkeypatch.setattr(pack, "solve", lambda *_, seed: "answer")
    monkeypatch.setattr(Packer, "_problem", lambda *_: "problem")
    for failure, wanted, more in (
        (plain, (A,), True),
        (short, (A,), False),
        (plain, (A, B), False),
        (plain, (looks,), False),
    ):
        monkeypatch.setattr(pack, "packing_failure", lambda *_, seed, failure=failure: failure)
        found = packer.why_not_together("v", wanted)
        assert found.text == failure.text + (
            "; 6.0 × 6.0 × 6.0 mm, its room for leads and plugs in it, would be enough" if more else ""
        )
        assert (found.missing_mm, found.axis) == (failure.missing_mm, failure.axis)
