"""Colours: uses keep apart, bundle mates differ while colours last, and a net has one colour everywhere."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.wire_colours import colour_findings
from fitplan.model.wiring import Spool
from fitplan.routing.harness.colours import NAMES, PALETTES, STOCK, Use, _liking, assign_colours
from fitplan.routing.harness.harness import wire_train
from tests.routing.test_harness import Flow, built_of

USES: tuple[Use, ...] = ("ground", "supply", "signal")


def test_the_plain_case() -> None:
    """Ground is black, supply red, signals differ from both and from one another."""
    plan = assign_colours(
        {"GND": "ground", "5 V": "supply", "echo": "signal", "trig": "signal"},
        [["GND", "5 V", "echo", "trig"]],
    )
    assert plan.colours["GND"] == "BK"
    assert plan.colours["5 V"] == "RD"
    assert len(set(plan.colours.values())) == 4
    assert plan.shared == ()


def test_a_second_ground_never_looks_like_a_supply() -> None:
    """The minus of cells before a charging board beside the train's ground: grey; before, it was red."""
    nets: dict[str, Use] = {"GND": "ground", "cell minus": "ground", "cell plus": "supply", "5 V": "supply"}
    plan = assign_colours(nets, [list(nets)])
    assert [plan.colours[net] for net in nets] == ["BK", "GY", "OG", "RD"]
    many: dict[str, Use] = {f"minus {i}": "ground" for i in range(9)} | {"5 V": "supply"}
    taken = assign_colours(many, [list(many)]).colours
    assert {taken[net] for net in many if many[net] == "ground"}.isdisjoint(PALETTES["supply"])
    assert taken["5 V"] == "RD"


def test_a_net_comes_back_in_its_own_colour() -> None:
    """Two supplies whose wires were all taken out for another fuse do not change colours with one another."""
    nets: dict[str, Use] = {"cells plus": "supply", "fused": "supply", "5 V": "supply"}
    bundles = [["cells plus", "fused", "5 V"]]
    assert assign_colours(nets, bundles, fixed={"5 V": "RD"}).colours["cells plus"] == "OG"
    before = {"cells plus": "BN", "fused": "OG", "5 V": "RD"}
    again = assign_colours(nets, bundles, fixed={"5 V": "RD"}, before=before)
    assert dict(again.colours) == before
    # What lies beside it now, or a colour that is another use's, is stronger than what was.
    taken = assign_colours(nets, bundles, fixed={"5 V": "BN"}, before=before).colours
    assert taken["cells plus"] != "BN"
    odd = assign_colours({"echo": "signal"}, [], before={"echo": "RD"}).colours
    assert odd["echo"] in PALETTES["signal"]


def test_each_use_knows_where_every_colour_stands() -> None:
    """Own colours, then borrowed ones: all that are given out, each once, black last but for grounds."""
    for use in USES:
        order = sorted(STOCK, key=lambda code, use=use: _liking(code, use))
        assert tuple(order[: len(PALETTES[use])]) == PALETTES[use]
        assert len({_liking(code, use) for code in STOCK}) == len(STOCK)
        assert use == "ground" or order[-1] == "BK"


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


def colourable(beside: Mapping[str, set[str]], colours: int) -> bool:
    """Whether some colouring keeps all neighbours apart: every one of them is tried."""
    names = list(beside)
    pairs = [(names.index(one), names.index(two)) for one in names for two in beside[one] if one < two]
    return any(
        all(given[one] != given[two] for one, two in pairs)
        for given in product(range(colours), repeat=len(names))
    )


@pytest.mark.parametrize("seed", range(4))
def test_no_two_share_a_colour_where_any_colouring_keeps_them_apart(seed: int) -> None:
    """Random companies of seven nets and two or three colours, against every colouring."""
    draw, apart, shared = random.Random(seed), 0, 0
    for _ in range(60):
        names = [f"n{i}" for i in range(7)]
        uses = {name: USES[min(i, 2)] for i, name in enumerate(names)}
        bundles = [draw.sample(names, draw.randint(2, 3)) for _ in range(draw.randint(3, 6))]
        beside: dict[str, set[str]] = {name: set() for name in names}
        for one, two in (pair for bundle in bundles for pair in combinations(bundle, 2)):
            beside[one].add(two)
            beside[two].add(one)
        for colours in (2, 3):
            plan = assign_colours(uses, bundles, stock=STOCK[:colours])  # type: ignore[arg-type]
            assert (plan.shared == ()) == colourable(beside, colours)
            apart, shared = apart + (plan.shared == ()), shared + (plan.shared != ())
    assert min(apart, shared) > 10


def test_greedy_colours_alone_would_share() -> None:
    """A ring of companies in an order that misleads the greedy way: two colours keep all six nets apart."""
    ring = [["a", "d"], ["d", "b"], ["b", "e"], ["e", "c"], ["c", "f"], ["f", "a"]]
    uses = dict.fromkeys("abcdef", "signal")
    plan = assign_colours(uses, ring, stock=["YE", "BU"])  # type: ignore[arg-type]
    assert plan.shared == ()
    kept = assign_colours(uses, ring, stock=["YE", "BU"], fixed={"a": "YE", "b": "BU"})  # type: ignore[arg-type]
    assert kept.shared
    assert (kept.colours["a"], kept.colours["b"]) == ("YE", "BU")


def test_palettes_are_codes_and_do_not_overlap() -> None:
    """Each colour belongs to one use, and all but protective earth's are given out."""
    codes = [code for palette in PALETTES.values() for code in palette]
    assert sorted(codes) == sorted(set(NAMES) - {"GNYE"})


def harness_of(nets: dict[str, list[str]], roles: dict[str, str], colours: tuple[str, ...] = ()):  # type: ignore[no-untyped-def]
    """Return a placed and wired train, with spools of these colours (1 m of each), and its harness."""
    spots = {"p": ("a", 12.0, 10.0), "q": ("a", 80.0, 10.0), "r": ("a", 46.0, 30.0)}
    built = built_of(spots, nets)
    made = tuple(replace(net, role=roles.get(net.name, "signal")) for net in built.train.nets)
    wiring = replace(built.train.wiring, spools=tuple(Spool(colour, 1.0) for colour in colours))
    built = replace(built, train=replace(built.train, nets=made, wiring=wiring))
    harness = wire_train(built, {name: Flow(1.0, 1.0) for name in nets}).harness
    return replace(built, harness=harness), {wire.net: wire.colour for wire in harness.wires}


def test_every_voltage_has_its_own_colour_though_they_never_meet() -> None:
    """Two supplies at different parts, in no common bundle, differ; both differ from ground."""
    nets = {"raw": ["p.p0", "q.p0"], "5 V": ["q.p1", "r.p0"], "ground": ["p.p1", "r.p1"]}
    roles = {"raw": "supply", "5 V": "supply", "ground": "ground"}
    built, colours = harness_of(nets, roles)
    assert len(set(colours.values())) == 3
    assert colours["ground"] == "BK"
    assert not any(wire.sleeved for wire in built.harness.wires)
    assert list(colour_findings(built)) == []


def test_the_two_wires_of_a_part_differ() -> None:
    """Plus and minus of a motor, both supplies of one part, have two colours."""
    nets = {"motor plus": ["p.p0", "q.p0"], "motor minus": ["p.p1", "q.p1"]}
    _, colours = harness_of(nets, dict.fromkeys(nets, "supply"))
    assert colours["motor plus"] != colours["motor minus"]


def test_what_spools_cannot_tell_apart_gets_sleeves() -> None:
    """Three nets and two colours: ground keeps its own, the others bear sleeves, a finding names them."""
    nets = {"raw": ["p.p0", "q.p0"], "5 V": ["q.p1", "r.p0"], "ground": ["p.p1", "r.p1"]}
    roles = {"raw": "supply", "5 V": "supply", "ground": "ground"}
    built, colours = harness_of(nets, roles, ("RD", "BK"))
    assert colours == {"raw": "RD", "5 V": "RD", "ground": "BK"}
    assert {wire.net for wire in built.harness.wires if wire.sleeved} == {"raw", "5 V"}
    (finding,) = colour_findings(built)
    assert finding.severity == "caution"
    assert "numbered sleeves" in finding.remedy


def test_a_spool_that_is_too_short_is_told() -> None:
    """Ten centimetres of the only colour for two wires of more: told with both figures in metres."""
    built, _ = harness_of({"n": ["p.p0", "q.p0"]}, {}, ("YE",))
    wiring = replace(built.train.wiring, spools=(Spool("YE", 0.05),))
    (finding,) = colour_findings(replace(built, train=replace(built.train, wiring=wiring)))
    assert (finding.where, finding.limit, finding.unit) == ("spool YE", 0.05, "m")
    assert finding.figure > 0.05
