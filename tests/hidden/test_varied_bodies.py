"""Varied bodies round hidden plans: all kinds are drawn, and the oracle tells what is none."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import pytest

from fitplan.model.vehicle import Vehicle
from fitplan.surface import read_train
from tests.hidden.bodies import varied_draws
from tests.hidden.oracle import Shown, first_shown, shown
from tests.hidden.trains import Hidden, draws

CATALOGUE = read_train("harbour-line").catalogue


def _first(seed: int) -> Hidden:
    return next(varied_draws(seed, 1, CATALOGUE))


def test_every_kind_is_drawn() -> None:
    """Among fifty draws stands each kind of end, wall, lid and brick that makers draw."""
    found: set[str] = set()
    for seed in range(50):
        hidden = _first(seed)
        for entry in hidden.train.vehicles:
            found |= set(_kinds(entry.vehicle))
            for side in ("+x", "-x"):
                ways = hidden.through.get((entry.name, side), {})  # type: ignore[call-overload]
                gates = hidden.gates.get((entry.name, side), {})  # type: ignore[call-overload]
                found |= {f"{len(set(ways.values()))} holes taken"} | ({"inner wall"} if gates else set())
        found.add(f"opened for {hidden.price:g}")
    wanted = {"several ports", "motor", "receiver", "two lids", "spare brick", "brick in the wall"}
    wanted |= {"inner wall", "1 holes taken", "2 holes taken"}
    assert wanted | {f"opened for {price}" for price in range(4)} <= found


def _kinds(vehicle: Vehicle) -> list[str]:
    found = [one.name.split()[0] for one in vehicle.built_in if " front" in one.name or " rear" in one.name]
    found += ["several ports"] if len({port.out for port in vehicle.ports}) < len(vehicle.ports) else []
    found += ["two lids"] if any(one.name == "small lid" for one in vehicle.openings) else []
    found += ["spare brick" for one in vehicle.removables if one.name.startswith("spare")]
    return found + ["brick in the wall" for one in vehicle.removables if one.name.startswith("brick in the")]


def test_what_lies_in_the_plan_stays() -> None:
    """Parts have the poses of the plain train, and its seeds draw what they drew."""
    plain, varied = next(draws(2, 1, CATALOGUE)), _first(2)
    assert plain.places.keys() == varied.places.keys()
    assert all(varied.places[need][1].pose == place.pose for need, (_, place) in plain.places.items())
    assert plain.train.needs == varied.train.needs
    assert plain == next(draws(2, 1, CATALOGUE))
    assert plain.open_train is None


def _opened(seed: int) -> Hidden:
    hidden, answer, _ = first_shown(seed, 1, CATALOGUE, varied=True)
    assert answer.metres > 0
    assert hidden.price > 0
    return hidden


def test_a_plan_that_opens_is_none_while_all_is_shut() -> None:
    """Nor is one whose holes are too small for the wires that are told to take them."""
    hidden = _opened(2002)
    assert isinstance(shown(hidden), Shown)
    with pytest.raises(KeyError):  # the hole that nets are told to take is no port
        shown(replace(hidden, open_train=None))
    narrow = {
        end: {net: replace(box, high=(*box.high[:2], box.low[2] + 0.4)) for net, box in ways.items()}
        for end, ways in hidden.through.items()
    }
    answer = shown(replace(hidden, through=narrow))
    assert isinstance(answer, str)
    assert "too small" in answer


def test_shown_lids() -> None:
    """A train whose lids are all too small for its parts is not shown."""
    hidden = _opened(2002)
    assert hidden.open_train is not None
    entries = [
        replace(
            entry,
            vehicle=replace(
                entry.vehicle,
                openings=tuple(
                    replace(one, box=replace(one.box, high=(one.box.low[0] + 4.0, *one.box.high[1:])))
                    for one in entry.vehicle.openings
                ),
            ),
        )
        for entry in hidden.open_train.vehicles
    ]
    answer = shown(replace(hidden, open_train=replace(hidden.open_train, vehicles=tuple(entries))))
    assert isinstance(answer, str)
    assert answer.startswith("no way in")


def test_the_same_seed_gives_the_same() -> None:
    """Several draws of a seed, twice."""
    assert list(islice(varied_draws(5, 1, CATALOGUE), 3)) == list(islice(varied_draws(5, 1, CATALOGUE), 3))
