"""Sets of bricks, of parts and of items that are tried in their order, and where a search for one ends."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.packing.access import exchange
from fitplan.packing.access.exchange import _AccessTask, _with_bricks
from fitplan.packing.access.way_in import _groups
from fitplan.packing.engine import infeasible_subset
from fitplan.packing.engine.infeasible_subset import _smallest
from fitplan.packing.engine.problem import PackingProblem, Space, block
from fitplan.packing.vehicle import box_shortage, pressed, wider_window
from fitplan.packing.vehicle.seats import PLAY_TENTHS
from fitplan.packing.vehicle.window_places import WindowPlaces


@dataclass(frozen=True)
class Way:
    """How an access is come by, as far as it is asked."""

    bricks: tuple[str, ...]
    reached: bool = True
    serves: bool = False

    def within(self, need: Any) -> bool:
        return self.serves


@pytest.mark.parametrize("allowed", range(4))
@pytest.mark.parametrize("serving", ["", "b", "ac", "abc"])
def test_bricks_come_out_one_by_one_as_many_as_may(
    monkeypatch: pytest.MonkeyPatch, allowed: int, serving: str
) -> None:
    """None if that will do, then each alone, then two: the first that serve; else as it was found plain."""
    asked: list[str] = []

    def task(inside: Any, placement: Any, access: Any, openings: Any) -> Any:
        out = "".join(sorted(inside.removed - {"gone"}))
        asked.append(out)
        return SimpleNamespace(done=lambda: Way((), serves=set(serving) <= set(out)))

    monkeypatch.setattr(exchange, "_AccessTask", task)
    monkeypatch.setattr(exchange, "usable_openings", lambda *given: "openings")
    monkeypatch.setattr(exchange, "replace", lambda way, bricks: Way(bricks, way.reached, way.serves))
    monkeypatch.setattr(
        exchange, "Disassembly", lambda vehicle, placements, removed: SimpleNamespace(removed=removed)
    )
    bricks = [SimpleNamespace(name=name) for name in ("c", "gone", "a", "b")]
    inside: Any = SimpleNamespace(
        vehicle=SimpleNamespace(removables=bricks), removed=frozenset({"gone"}), placements={}
    )
    need: Any = SimpleNamespace(exchange=SimpleNamespace(bricks_out=allowed))
    access: Any = SimpleNamespace(often=True)
    found = _with_bricks(inside, None, access, need)  # type: ignore[arg-type]
    order = ["".join(some) for count in range(allowed + 1) for some in itertools.combinations("abc", count)]
    first = next((names for names in order if set(serving) <= set(names)), None)
    assert asked == (order if first is None else order[: order.index(first) + 1])
    assert "".join(found.bricks) == (first or "")


@pytest.mark.parametrize("most", [1, 3, 4, 99])
def test_parts_come_out_the_fewest_first_and_no_more_sets_than_so_many(
    monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    """Each set that lets it out and comes out itself; all of them together last of all."""
    monkeypatch.setattr(exchange, "MOST_SETS", most)
    asked: list[str] = []
    everything = (SimpleNamespace(parts=("a", "b")), SimpleNamespace(parts=("c",)))

    def stripped(names: frozenset[str]) -> Any:
        if names == frozenset("abc"):
            return everything
        return tuple(SimpleNamespace(parts=(name,)) for name in sorted(names))

    def last(inside: frozenset[str]) -> Any:
        out = "".join(sorted(frozenset("abcp") - inside))
        if out not in ("abc",):
            asked.append(out)
        return None if out in ("b", "ac") else "way"

    self: Any = SimpleNamespace(
        need="p", disassembly=SimpleNamespace(names=frozenset("abcp")), _last=last, _stripped=stripped,
        _none_to_spare=lambda ways: ways,
    )  # fmt: skip
    found = list(_AccessTask._from_the_fewest(self))
    sets = [["a"], ["b"], ["c"], ["a", "b"], ["a", "c"], ["b", "c"]][:most]
    assert found[0] == ()
    assert found[-1] == everything
    told = [[name for way in ways for name in way.parts] for ways in found[1:-1]]
    assert told == [names for names in sets if names not in (["b"], ["a", "c"])]
    assert asked == ["".join(names) for names in sets]


def test_items_are_dropped_the_smallest_first_as_long_as_the_rest_has_no_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is left is smallest only if nothing about it was undecided, and the work was not used up."""
    space = Space((0, 0, 0, 99, 99, 99))
    items = [
        block(name, size, space) for name, size in (("c", (9, 9, 9)), ("a", (2, 2, 2)), ("b", (5, 5, 5)))
    ]
    problem = PackingProblem((space,), tuple(items))
    asked: list[str] = []

    def smallest(answers: dict[str, str], most: int = 99) -> tuple[str, bool, int]:
        asked.clear()

        def solve(one: PackingProblem, left: Any, *, seed: int) -> Any:
            names = "".join(sorted(item.name for item in one.items))
            asked.append(names)
            return SimpleNamespace(status=answers.get(names, "fits"), work=10)

        monkeypatch.setattr(infeasible_subset, "solve", solve)
        budget: Any = SimpleNamespace(
            used_up=lambda work: work >= most,
            less=lambda work: SimpleNamespace(part=lambda share: (work, round(share, 6))),
        )
        kept, proved, work = _smallest(problem, items, budget, 0)
        return "".join(sorted(item.name for item in kept)), proved, work

    assert smallest({}) == ("abc", True, 30)
    assert asked == ["bc", "ac", "ab"]
    assert smallest({"bc": "cannot_fit"}) == ("bc", True, 30)
    assert asked == ["bc", "c", "b"]
    assert smallest({"bc": "cannot_fit", "c": "cannot_fit"}) == ("c", True, 20)
    assert smallest({"ac": "not_decided"}) == ("abc", False, 30)
    assert smallest({"bc": "cannot_fit"}, most=10) == ("bc", False, 10)
    assert smallest({"bc": "cannot_fit"}, most=0) == ("abc", False, 0)


@pytest.mark.parametrize("looks", [None, ("v", "pane"), ("v", "other"), ("w", "pane")])
@pytest.mark.parametrize("lack", [0.0, 3.0])
def test_what_looks_out_of_a_window_lacks_that_first(
    monkeypatch: pytest.MonkeyPatch, looks: Any, lack: float
) -> None:
    """Of its own vehicle, by its name, and only where something is missing there."""
    pane = SimpleNamespace(name="pane")
    asked: list[Any] = []
    monkeypatch.setattr(
        box_shortage,
        "_past_window",
        lambda window, entry: asked.append(window) or (lack, "width", "", "said"),
    )
    vehicle: Any = SimpleNamespace(windows=[SimpleNamespace(name="first"), pane], removables=(), zones=())
    entry: Any = SimpleNamespace(
        need=SimpleNamespace(looks=looks), part=SimpleNamespace(mount=SimpleNamespace(allowed_poses=list))
    )
    found = box_shortage.box_shortage(vehicle, "v", entry, None)  # type: ignore[arg-type]
    own = looks == ("v", "pane")
    assert asked == ([pane] if own else [])
    assert found == ((3.0, "width", "", "said") if own and lack else (0.0, "", "", ""))


def test_no_place_is_asked_about_where_a_part_meets_what_stays() -> None:
    """Each offset by itself: boxes that only touch do not meet, on either side and along each axis."""
    rng = np.random.default_rng(4)
    offsets = [np.arange(0, 60, 7), np.arange(-10, 50, 9), np.arange(0, 40, 8)]

    def moved(place: tuple[int, ...]) -> list[tuple[int, int]]:
        return [(k, int(offsets[k][number])) for k, number in enumerate(place)]

    for _ in range(12):
        low = rng.integers(0, 40, 3)
        stuck = [(*low.tolist(), *(low + rng.integers(1, 30, 3)).tolist())]
        stuck.append((7, -10, 0, 14, -1, 8))
        solids = [(0, 0, 0, 7, 9, 8), (7, 0, 0, 14, 9, 16)]
        seen: list[Any] = []
        kinds = np.zeros((3, 3, 3), np.uint8)
        nothing = [(np.zeros(len(line), np.int64), np.zeros(len(line), np.int64)) for line in offsets]
        self: Any = SimpleNamespace(
            _offsets=offsets, _cells=SimpleNamespace(kinds=kinds), _solids=solids, _kept=[], _stuck=stuck,
            _view=lambda n=nothing: list(n), _spans=lambda box, n=nothing: list(n),
            _least=lambda places, ranges, seen=seen: (seen.append((places, ranges)), iter("ab"))[1],
        )  # fmt: skip
        found = list(WindowPlaces.cuts(self))
        wanted = {
            place
            for place in itertools.product(*(range(len(line)) for line in offsets))
            if not any(
                all(at + box[k] < other[k + 3] and at + box[k + 3] > other[k] for k, at in moved(place))
                for box in solids
                for other in stuck
            )
        }
        if not wanted:
            assert found == []
            continue
        ((places, ranges),) = seen
        assert {tuple(row) for row in places.tolist()} == wanted
        assert len(ranges) == len(solids) + 1
        assert found == ["a", "b"]  # type: ignore[comparison-overlap]


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("out", ["+x", "-x", "+y", "-y"])
def test_offsets_worth_asking_about_are_where_some_edge_meets_another(axis: int, out: Any) -> None:
    """Edges of a part at edges of cells or of what stays, on studs as well; and both ends."""
    along, forwards = "xy".index(out[1]), out[0] == "+"
    low, high = [8.0, 16.0, 20.0], [40.0, 32.0, 36.0]
    end = (80.0, 48.0)[along] if forwards else 8.0
    low[along], high[along] = end - 8.0, end
    frame = [round(v * 10) for v in (*low, *high)]
    lens, body = (30, 40, 50, 70, 90, 85), (6, 5, 4, 70, 100, 90)
    hull = (0, 0, 100, 800, 480, 700)
    solids, kept, seen = [(0, 0, 0, 70, 100, 90)], [(70, 20, 10, 95, 60, 40)], (30, 40, 50, 31, 90, 85)
    stuck = [(333, 222, 155, 351, 250, 190)]
    self: Any = SimpleNamespace(
        _window=SimpleNamespace(box=Box(tuple(low), tuple(high)), out=out), _along=along,  # type: ignore[arg-type]
        _hull=hull, _body=body, _lens=lens, _solids=solids, _kept=kept, _seen=lambda: seen, _stuck=stuck,
        _studs=(0, 17), _cells=SimpleNamespace(kinds=np.zeros((10, 6, 18)), base=100),
        _asks_least=lambda axis, line: np.ones(len(line), bool),
    )  # fmt: skip
    found = WindowPlaces._critical(self, axis).tolist()
    first, last = hull[axis] - body[axis] - PLAY_TENTHS, hull[axis + 3] - body[axis + 3] + PLAY_TENTHS
    if axis == along:
        front = lens[axis + 3] if forwards else lens[axis]
        first, last = max(first, frame[axis] - front), min(last, frame[axis + 3] - front)
    else:
        first = max(first, frame[axis] - lens[axis + 3] + 1)
        last = min(last, frame[axis + 3] - lens[axis] - 1)
    start, step, count = ((0, 80, 11), (0, 80, 7), (100, 32, 19))[axis]
    planes = {start + step * k + top for k in range(count) for top in ((0, 17) if axis == 2 else (0,))}
    edges = [box[axis + end] for box in (*solids, *kept, seen) for end in (0, 3)]
    wanted = {first, last} | {plane - edge for plane in planes for edge in edges}
    wanted |= {box[axis + end] - edge for box in stuck for end in (0, 3) for edge in edges}
    if axis == 1:
        wanted.add((frame[1] + frame[4] - lens[1] - lens[4]) // 2)
    assert found == sorted(at for at in wanted if first <= at <= last)
    assert len(found) > 2


def test_no_wider_window_is_looked_for_in_a_roof(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor where a part looks out of none, or a body has no layers; else every pose that looks that way is."""
    poses = [SimpleNamespace(turn_direction=lambda way, to=to: to) for to in ("+x", "+y", "+x")]
    asked: list[Any] = []
    monkeypatch.setattr(
        wider_window, "WindowPlaces", lambda *given: asked.append(given) or SimpleNamespace(cuts=list)
    )
    mount = SimpleNamespace(allowed_poses=lambda: poses, looks="")
    own = ("v", "w")
    kinds: list[tuple[str, Any, Any]] = [("+x", own, "cells"), ("+z", own, "cells"), ("+x", own, None)]
    for out, looks, cells in [*kinds, ("+x", None, "cells"), ("+x", ("u", "w"), "cells")]:
        monkeypatch.setattr(wider_window, "StudCells", SimpleNamespace(of=lambda vehicle, cells=cells: cells))
        window = SimpleNamespace(name="w", out=out)
        packer: Any = SimpleNamespace(vehicle=lambda name, window=window: SimpleNamespace(windows=[window]))
        wanted: Any = SimpleNamespace(need=SimpleNamespace(looks=looks), part=SimpleNamespace(mount=mount))
        asked.clear()
        assert wider_window.wider_window(packer, "v", wanted) is None
        right = (out, looks, cells) == ("+x", ("v", "w"), "cells")
        assert [given[-1] for given in asked] == ([poses[0], poses[2]] if right else [])


def test_groups_that_leave_as_one_hold_all_that_they_carry() -> None:
    """The smallest first; none holds what the body alone keeps in; what has left counts no more."""
    carried = {"a": "b", "b": "", "c": "de", "d": "", "e": "", "f": ""}
    disassembly: Any = SimpleNamespace(
        openings=["lid", "side"], carried=lambda need: frozenset(carried[need]),
        way_out=lambda group, others, opening: "way" if opening == "side" and group != {"f"} else None,
    )  # fmt: skip
    for left in ("abcdef", "abce", "acf", "bd"):
        found = ["".join(sorted(group)) for group in _groups(disassembly, frozenset(left))]
        free = [need for need in left if need != "f"]
        wanted = [
            "".join(some)
            for count in range(2, len(free) + 1)
            for some in itertools.combinations(free, count)
            if all(other in some for need in some for other in carried[need] if other in left)
        ]
        assert found == wanted
    assert "cde" in [
        "".join(sorted(group)) for group in itertools.islice(_groups(disassembly, frozenset("cde")), 9)
    ]


@dataclass(frozen=True)
class Above:
    """A strap, as far as pairs look at it."""

    name: str
    count: int
    lifts_n: float = 1.0
    pieces: tuple[Any, ...] = ()

    def __lt__(self, other: Above) -> bool:
        return self.name < other.name


def _name(below: Any) -> str:
    return "" if below is None else str(below.name)


def test_of_all_pairs_that_press_the_one_of_fewest_pieces_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever holds, stands and meets nothing, by chance, with nothing below or with some pieces."""
    rng = np.random.default_rng(8)
    taken = 0
    for _ in range(60):
        overs = [Above(name, int(rng.integers(1, 5)), float(rng.choice([0.1, 1.0]))) for name in "dbca"]
        belows: list[Any] = [(None, "lies")] if rng.random() < 0.5 else []
        sizes = sorted(int(n) for n in rng.integers(1, 5, 3))
        belows += [
            (SimpleNamespace(name=f"{k}", pieces=[0] * size), f"on {k}") for k, size in enumerate(sizes)
        ]
        said: dict[Any, bool] = {}

        def chance(*key: Any, said: dict[Any, bool] = said) -> bool:
            return said.setdefault(key, bool(rng.random() < 0.7))

        part: Any = SimpleNamespace(boxes=[(0, 0, 0, 9, 9, 9)], own_room=(), around=(), push_n=0.5)

        monkeypatch.setattr(pressed, "middle_of", lambda boxes: (0.0, 0.0))
        monkeypatch.setattr(pressed, "straps_over", lambda *_, overs=overs: iter(overs))
        monkeypatch.setattr(pressed, "_belows", lambda *_, belows=belows: iter(belows))
        monkeypatch.setattr(
            pressed, "may_press", lambda push, middle, touches, over: chance("may", touches, over)
        )
        monkeypatch.setattr(
            pressed, "_meet", lambda below, over, high: not chance("meet", _name(below), over)
        )
        monkeypatch.setattr(pressed, "bricks_stand_free", lambda *_: True)
        monkeypatch.setattr(pressed, "pad_of", lambda over, high: ())
        monkeypatch.setattr(pressed, "lever_of", _name)
        monkeypatch.setattr(
            pressed, "stands_free", lambda vehicle, removed, part, below: chance("stands", _name(below))
        )
        monkeypatch.setattr(
            pressed,
            "presses",
            lambda push, middle, touches, over, lever: chance("presses", touches, over, lever),
        )
        monkeypatch.setattr(pressed, "cache", lambda function: function)
        found = pressed.cheapest_pair(None, frozenset(), part, ["lies"], [(1,) * 6])  # type: ignore[arg-type, list-item]
        right = [
            (over.count + (len(below.pieces) if below is not None else 0), below, over)
            for below, touches in belows
            for over in overs
            if over.lifts_n >= 0.5
            and chance("may", touches, over)
            and chance("meet", _name(below), over)
            and (below is None or chance("stands", _name(below)))
            and chance("presses", touches, over, _name(below))
        ]
        assert (found is None) == (not right)
        if found is None:
            continue
        taken += 1
        assert found.count == min(count for count, *_ in right)
        assert (found.count, found.below, found.over) in right
        assert found.pads == (((1,) * 6,) if found.below is None else ())
    assert taken > 20
