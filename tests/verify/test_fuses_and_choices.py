"""What a choice counts: conductors ahead of a fuse, costs of bricks, places down the lists."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import Need
from fitplan.model.nets import Net
from fitplan.model.placed import Piece, Rebuild, Shelf
from fitplan.model.plan import Plan
from fitplan.model.proposed import Option
from fitplan.model.solids import Box
from fitplan.verify.choice import _as_planned, _beats, _list_order, _rebuilds, _unfused, check_choice
from tests.circuit.sample_parts import board, cells, fuse, need, net, switch, train

from .lies import built_with, problems
from .test_lies_in_words import CHOSEN, OTHER, with_options
from .two_vehicles import LAMP, plan

PARTS = (
    need("cells", cells()),
    need("more", cells()),
    need("fuse", fuse()),
    need("second", fuse()),
    need("switch", switch()),
    need("other", switch()),
    need("board", board()),
)


def unfused(*nets: Net, needs: tuple[Need, ...] = PARTS) -> list[str]:
    return [one.name for one in _unfused(train(needs, nets))]


def line(name: str, *joins: str) -> Net:
    return net(name, "supply", *joins)


OUT = line("out", "fuse.b", "board.5V")


@pytest.mark.parametrize(
    ("nets", "found"),
    [
        ((line("a", "cells.plus", "fuse.a"), OUT), ["a"]),
        ((line("a", "fuse.a", "cells.plus"), OUT), ["a"]),
        ((line("a", "cells.plus", "switch.a"), line("b", "switch.b", "fuse.a"), OUT), ["b", "a"]),
        (
            (
                line("a", "cells.plus", "switch.a"),
                line("b", "switch.b", "other.a"),
                line("c", "other.b", "fuse.a"),
                OUT,
            ),
            ["c", "b", "a"],
        ),
        # A third end on the way: what flows there has no fuse anyway.
        ((line("a", "cells.plus", "fuse.a", "board.5V"), OUT), []),
        ((line("a", "cells.plus", "switch.a", "board.5V"), line("b", "switch.b", "fuse.a"), OUT), []),
        # A switch that three nets meet at.
        (
            (
                line("a", "cells.plus", "switch.a"),
                line("b", "switch.b", "fuse.a"),
                line("c", "switch.b", "board.5V"),
            ),
            [],
        ),
        # It does not lead to cells, or is no supply.
        ((line("a", "board.5V", "fuse.a"), OUT), []),
        ((line("a", "board.5V", "switch.a"), line("b", "switch.b", "fuse.a")), []),
        ((net("a", "signal", "cells.plus", "fuse.a"), OUT), []),
        # Both ends of one part are one end; a net from a fuse to itself leads nowhere.
        ((line("a", "cells.plus", "fuse.a", "cells.plus"), OUT), ["a"]),
        ((line("a", "fuse.a", "fuse.b"), OUT), []),
        # Round in a ring and no farther.
        ((line("a", "fuse.a", "switch.a"), line("b", "switch.b", "fuse.b")), []),
        # Two fuses, each with cells of its own, and two at the same cells.
        ((line("a", "cells.plus", "fuse.a"), line("b", "more.plus", "second.a")), ["a", "b"]),
        ((line("a", "cells.plus", "fuse.a"), line("b", "cells.plus", "second.a")), ["a", "b"]),
        # From fuse to fuse, and on to cells: what lies between is behind one of them.
        ((line("a", "cells.plus", "fuse.a"), line("b", "fuse.b", "second.a")), ["a"]),
        # Cells at both ends of a fuse.
        ((line("a", "cells.plus", "fuse.a"), line("b", "more.plus", "fuse.b")), ["a", "b"]),
    ],
)  # fmt: skip
def test_which_nets_lie_ahead_of_a_fuse(nets: tuple[Net, ...], found: list[str]) -> None:
    assert unfused(*nets) == found


def test_candidates_of_which_some_are_none() -> None:
    """A fuse is one whatever is chosen; cells are some whatever is chosen."""
    nets = (line("a", "cells.plus", "switch.a"), line("b", "switch.b", "fuse.a"))

    def with_need(name: str, one: Need) -> tuple[Need, ...]:
        return tuple(one if old.name == name else old for old in PARTS)

    assert unfused(*nets) == ["b", "a"]
    assert unfused(*nets, needs=with_need("fuse", need("fuse", fuse(), switch()))) == []
    assert unfused(*nets, needs=with_need("switch", need("switch", switch(), fuse()))) == []
    assert unfused(*nets, needs=with_need("cells", need("cells", cells(), board()))) == ["b", "a"]
    assert unfused(*nets, needs=with_need("cells", need("cells", board(), cells()))) == ["b", "a"]
    assert unfused(*nets, needs=PARTS[1:]) == []


# -- lists -------------------------------------------------------------------------------------------------


def ahead(*chosen: tuple[str, str], told: int, lists: dict[str, tuple[str, ...]]) -> list[str]:
    """What is said of an option that tells how far down their lists its parts stand."""
    needs = tuple(Need(name, tuple(replace(LAMP, id=one) for one in ids)) for name, ids in lists.items())
    made = train(needs, ())
    parts = tuple((name, part_id, "shunter") for name, part_id in chosen)
    option = replace(CHOSEN, parts=parts, later_in_list=told)
    return [one.message for one in problems(_list_order, made, option, "option 1")]


@pytest.mark.parametrize(
    ("part_id", "places"), [("first", 0), ("second", 1), ("third", 2), ("third-leads", 2), ("unlisted", 0)]
)
def test_places_down_a_list(part_id: str, places: int) -> None:
    """Forms of one part stand in one place together; what is in no list stands ahead of all."""
    lists = {"a": ("first", "second", "second-pins", "third", "third-leads"), "b": ("lamp", "third")}
    assert ahead(("a", part_id), told=places, lists=lists) == []
    assert ahead(("a", part_id), ("b", "third"), told=places + 1, lists=lists) == []
    assert ahead(("a", part_id), ("b", "lamp"), told=places + 2, lists=lists) == [
        f"says its parts stand {places + 2} places down their lists; they stand {places}"
    ]
    assert ahead(("c", part_id), told=0, lists=lists) == []


# -- of two options ----------------------------------------------------------------------------------------

FIELDS = {
    "vehicles_opened": 1,
    "wagons_added": 1,
    "conductors_across": 1,
    "bricks_removed": 0.5,
    "wire_mm": 0.2,
    "mass_off_balance_g": 0.02,
    "unfused_across": 1,
    "later_in_list": 1,
}


@pytest.mark.parametrize("field", FIELDS)
def test_one_beats_another_in_any_figure_when_it_is_no_worse_in_the_rest(field: str) -> None:
    """Wire to a tenth of a millimetre, grams to a hundredth: what differs less is alike."""
    base = replace(CHOSEN, wire_mm=100.0, mass_off_balance_g=2.0)
    more = replace(base, **{field: getattr(base, field) + FIELDS[field]})
    assert _beats(base, more)
    assert not _beats(more, base)
    assert not _beats(base, base)
    other = next(one for one in FIELDS if one != field)
    mixed = replace(base, **{other: getattr(base, other) + FIELDS[other]})
    assert not _beats(more, mixed)
    assert not _beats(mixed, more)
    shut = replace(base, shut_in=1)
    assert not _beats(shut, more)
    assert _beats(shut, replace(more, shut_in=1))
    assert not _beats(base, replace(base, wire_mm=100.04, mass_off_balance_g=2.004))


def test_an_option_that_is_beaten_is_told() -> None:
    """Of those that are not chosen; the chosen one beats and is beaten by none of them."""
    worse = replace(OTHER, bricks_removed=30.0, score=OTHER.score + 600.0)
    worst = replace(worse, wire_mm=worse.wire_mm + 100, score=worse.score + 0.5)
    there = with_options(CHOSEN, worse, replace(worst, parts=worse.parts[::-1]))
    told = [(one.where, one.message) for one in problems(check_choice, there)]
    assert ("option 3", "is beaten by another in every figure") in told
    assert ("plan", "two options are one and the same") in told
    assert len(told) == 2


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, True),
        ({"shut_in": 1}, False),
        ({"parts": OTHER.parts[:4]}, False),
    ],
)
def test_an_option_that_costs_less_is_chosen(change: dict[str, object], told: bool) -> None:
    """Unless more is shut in, or fewer parts have a place: such a score is no matter."""
    other = replace(OTHER, **change)  # type: ignore[arg-type]
    found = [one.message for one in problems(check_choice, with_options(CHOSEN, other))]
    assert any("less than the chosen one" in message for message in found) == told


# -- rebuilds ----------------------------------------------------------------------------------------------


def rebuilt(*rows: Rebuild, plan_of: Plan | None = None) -> list[tuple[str, str, float]]:
    made = built_with(plan_of or plan(), rebuilds=rows)
    return [(one.where, one.message, one.figure) for one in problems(_rebuilds, made)]


def row(*remove: str, cost: float = 2.0, least: float = 2.0, vehicle: str = "loco") -> Rebuild:
    return Rebuild(vehicle, remove, (), cost, least, "carried")


def test_rebuilds_are_told_truly() -> None:
    """The loco's one brick costs 2; the least is no more than that, and no less than nothing."""
    assert rebuilt(row("shelf brick")) == []
    assert rebuilt(row("shelf brick", least=0.0)) == []
    assert rebuilt(row("shelf brick", cost=3.0)) == [("loco", "says it costs 3; its bricks cost 2", 1.0)]
    found = rebuilt(row("shelf brick", cost=1.0, least=1.0))
    assert found == [("loco", "says it costs 1; its bricks cost 2", 1.0)]
    assert rebuilt(row("shelf brick", least=2.5)) == [
        ("loco", "says nothing below 2.5 does; it costs 2 itself", 0.5)
    ]
    assert [one[1] for one in rebuilt(row("shelf brick", least=-0.5))] == [
        "says nothing below -0.5 does; it costs 2 itself"
    ]
    assert rebuilt(row("shelf brick", "shelf brick", cost=4.0)) == [("loco", "takes a brick out twice", 0.0)]
    twice = rebuilt(row("shelf brick"), row(cost=0.0, least=0.0))
    assert twice == [("loco", "is rebuilt twice", 0.0)]
    # One in no vehicle is told elsewhere; those after it are looked at.
    lost = rebuilt(row("x", vehicle="tender"), row("shelf brick", cost=3.0))
    assert lost == [("loco", "says it costs 3; its bricks cost 2", 1.0)]


def test_rebuilds_add_what_carries_parts_of_their_vehicle() -> None:
    shelf = Shelf("block", (Piece("block", Box((0, 0, 0), (4, 4, 4))),), 0)
    placed = tuple(
        replace(one, shelf=shelf) if one.need == "lamp" else one for one in plan().built.placements
    )
    made = built_with(plan(), placements=placed)
    words = "adds other pieces than carry its parts"
    assert rebuilt(row("shelf brick"), plan_of=made) == []
    wagon = row(cost=0.0, least=0.0, vehicle="wagon")
    assert rebuilt(wagon, plan_of=made) == [("wagon", words, 0.0)]
    assert rebuilt(replace(wagon, shelves=(shelf,)), plan_of=made) == []
    assert rebuilt(replace(row("shelf brick"), shelves=(shelf,)), plan_of=made) == [("loco", words, 0.0)]


@pytest.mark.parametrize("said", [0.0, 1.98, 2.02, 5.0])
def test_an_option_counts_the_bricks_of_the_plan(said: float) -> None:
    made = replace(built_with(plan(), rebuilds=(row("shelf brick"),)), verdict="fits after a rebuild")
    option = replace(CHOSEN, bricks_removed=said)
    found = [(one.message, one.figure) for one in problems(_as_planned, made, option)]
    assert found == [
        (f"says bricks of {said:g} come out; the plan takes out 2", pytest.approx(abs(said - 2)))
    ]
    assert problems(_as_planned, made, replace(option, bricks_removed=2.005)) == ()


def test_conductors_of_the_plan_are_counted() -> None:
    """Two nets over the one coupling; an added wagon counts once, whatever is in it."""
    for field, said, words in (
        ("conductors_across", 5, "says 5 conductors cross couplings; its places ask for 2"),
        ("unfused_across", 3, "says 3 conductors cross couplings ahead of a fuse; 0 do"),
        ("wagons_added", 2, "says 2 wagons are added; 0 are"),
    ):
        option: Option = replace(CHOSEN, **{field: said})  # type: ignore[arg-type]
        found = [one.message for one in problems(_as_planned, plan(), option)]
        assert found == [words]


def test_needs_left_out_are_told_with_their_reasons() -> None:
    made: Plan = replace(plan(), unplaced=(("horn", "no room"), ("lamp", " ")), verdict="cannot fit")
    found = [(one.where, one.message) for one in problems(check_choice, made)]
    assert found == [
        ("horn", "is left out, and is no need of the train"),
        ("lamp", "is left out, and no reason is given"),
    ]
