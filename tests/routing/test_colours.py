"""Colours: uses keep apart, bundle mates differ while colours last, and a net has one colour everywhere."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.routing.harness.colours import NAMES, PALETTES, assign_colours

USES = ("ground", "supply", "signal")


def test_the_plain_case() -> None:
    """CostMap is black, supply red, signals differ from both and from one another."""
    plan = assign_colours(
        {"GND": "ground", "5 V": "supply", "echo": "signal", "trig": "signal"},
        [["GND", "5 V", "echo", "trig"]],
    )
    assert plan.colours["GND"] == "BK"
    assert plan.colours["5 V"] == "RD"
    assert len(set(plan.colours.values())) == 4
    assert plan.shared == ()


@given(
    st.lists(st.sampled_from(USES), min_size=1, max_size=14),
    st.lists(st.lists(st.integers(0, 13), max_size=8), max_size=5),
)
@settings(max_examples=80)
def test_colours_differ_while_they_last(uses: list[str], groups: list[list[int]]) -> None:
    """No two nets of a bundle of up to eight share a colour when each net has at most 13 neighbours."""
    nets = {f"n{i}": use for i, use in enumerate(uses)}
    bundles = [[f"n{i}" for i in group if i < len(uses)] for group in groups]
    plan = assign_colours(nets, bundles)  # type: ignore[arg-type]
    assert set(plan.colours) == set(nets)
    assert "GNYE" not in plan.colours.values()
    assert plan.shared == ()
    for bundle in bundles:
        colours = [plan.colours[net] for net in dict.fromkeys(bundle)]
        assert len(set(colours)) == len(colours)


def test_when_colours_run_out_uses_still_keep_apart() -> None:
    """Twenty signals with a ground and a supply: signals share among themselves, never with the other two."""
    nets = {"GND": "ground", "5 V": "supply"} | {f"s{i}": "signal" for i in range(20)}
    plan = assign_colours(nets, [list(nets)])  # type: ignore[arg-type]
    assert plan.shared
    assert all({one, two}.isdisjoint({"GND", "5 V"}) for one, two, _ in plan.shared)


def test_the_users_colours_and_stock_are_kept() -> None:
    """A fixed colour stays, neighbours avoid it, and only colours in stock are given out."""
    plan = assign_colours(
        {"GND": "ground", "a": "signal", "b": "signal"},
        [["GND", "a", "b"]],
        stock=["RD", "BU", "BK"],
        fixed={"a": "BK"},
    )
    assert plan.colours["a"] == "BK"
    assert {plan.colours["GND"], plan.colours["b"]} == {"RD", "BU"}
    with pytest.raises(ValueError, match="XX"):
        assign_colours({"a": "signal"}, [], fixed={"a": "XX"})
    with pytest.raises(ValueError, match="stock"):
        assign_colours({"a": "signal"}, [], stock=["GNYE"])


def test_palettes_are_codes_and_do_not_overlap() -> None:
    """Each colour belongs to one use, and all but protective earth's are given out."""
    codes = [code for palette in PALETTES.values() for code in palette]
    assert sorted(codes) == sorted(set(NAMES) - {"GNYE"})
