"""Which parts of the catalogue may serve."""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.errors import InputError
from fitplan.files.choice import Demand, Wish, candidates, nominal_volts, pins_meant, unmet
from fitplan.files.find import find_train
from fitplan.files.read import read_catalogue, read_train
from fitplan.model.electrical import CellPack, Controller
from fitplan.model.part import CANS, Can, Part, Pin
from fitplan.model.solids import Box

cans = st.frozensets(st.sampled_from(CANS[:4]), min_size=1)


def board(abilities: list[frozenset[Can]], edge: float = 10.0, name: str = "board") -> Part:
    pins = tuple(Pin(f"D{i}", "signal", (0.0, 0.0, 0.0), "+z", can=can) for i, can in enumerate(abilities))
    ground = Pin("GND", "ground", (0.0, 0.0, 0.0), "+z")
    box = Box((0.0, 0.0, 0.0), (edge, edge, edge))
    return Part(name, name, "controller", (box,), 1.0, "invented", pins=(*pins, ground))


@settings(max_examples=200, deadline=None)
@given(abilities=st.lists(cans, max_size=6), wanted=st.lists(cans, max_size=6))
def test_board_serves_when_each_net_can_have_a_pin_of_its_own(
    abilities: list[frozenset[Can]], wanted: list[frozenset[Can]]
) -> None:
    """A board is accepted exactly when the reference library finds a matching of nets to pins."""
    graph = nx.Graph()
    graph.add_nodes_from([("net", i) for i in range(len(wanted))])
    graph.add_edges_from(
        (("net", i), ("pin", j))
        for i, wish in enumerate(wanted)
        for j, can in enumerate(abilities)
        if wish <= can
    )
    matching = nx.bipartite.hopcroft_karp_matching(graph, [("net", i) for i in range(len(wanted))])
    served = sum(node[0] == "net" for node in matching)
    assert (unmet(board(abilities), Demand(chosen=tuple(wanted))) == "") == (served == len(wanted))


def test_pin_that_is_named_is_not_given_away() -> None:
    """A pin that one net names is not counted for a net that takes any."""
    one_pwm = board([frozenset({"pwm"}), frozenset({"input"})])
    assert unmet(one_pwm, Demand(chosen=(frozenset({"pwm"}),))) == ""
    lacking = unmet(one_pwm, Demand(pins=("D0",), chosen=(frozenset({"pwm"}),)))
    assert lacking == "1 signal pin for pwm: it has 0"


def test_what_is_lacking_is_named() -> None:
    """A missing pin, too few pins of an ability, and pins that cannot serve all at once are told apart."""
    two = board([frozenset({"input", "output"}), frozenset({"output"})])
    assert unmet(two, Demand(pins=("A0",))) == "pin 'A0'"
    assert unmet(two, Demand(extra=(("input", 2),))) == "2 signal pins for input: it has 1"
    lacking = unmet(two, Demand(chosen=(frozenset({"input"}), frozenset({"output"})), extra=(("output", 1),)))
    assert lacking == "3 signal pins that can do what is asked, each once"


def test_names_go_before_roles() -> None:
    """A pin's own name is meant before a role of the same word; a role means all its pins."""
    pins = (
        Pin("plus", "supply", (0.0, 0.0, 0.0), "+z"),
        Pin("a", "plus", (0.0, 0.0, 0.0), "+z"),
        Pin("b", "supply", (0.0, 0.0, 0.0), "+z"),
    )
    part = Part("p", "p", "switch", (Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),), 1.0, "invented", pins=pins)
    assert [pin.name for pin in pins_meant(part, "plus")] == ["plus"]
    assert [pin.name for pin in pins_meant(part, "supply")] == ["plus", "b"]
    assert pins_meant(part, "c") == []


def test_smallest_comes_first_and_named_ones_keep_their_order() -> None:
    """Boards of a family are ordered by volume; boards that were named stay in the user's order."""
    boards = [board([], edge, f"board-{edge:g}") for edge in (30.0, 10.0, 20.0)]
    wish = Wish(("controller",), (), 0.0, Demand(), looks=False, sits=False)
    assert [part.id for part in candidates(boards, wish)[0]] == ["board-10", "board-20", "board-30"]
    named = Wish((), ("board-20", "board-30"), 0.0, Demand(), looks=False, sits=False)
    assert [part.id for part in candidates(boards, named)[0]] == ["board-20", "board-30"]


def test_supplies_are_taken_by_their_nominal_volts() -> None:
    """Asked for 6 V, supplies are offered that give 5.7 V to 12 V by name, and no other."""
    catalogue = read_catalogue()
    wish = Wish(("cells", "pouch"), (), 6.0, Demand(), looks=False, sits=False)
    found, reason = candidates(catalogue.values(), wish)
    volts = {part.id: nominal_volts(part) for part in found}
    assert reason == ""
    assert volts["cells-aa-4"] == 6.0
    assert all(5.7 <= value <= 12.0 for value in volts.values())
    left_out = [part for part in catalogue.values() if part.family in wish.families and part.id not in volts]
    assert all(not 5.7 <= nominal_volts(part) <= 12.0 for part in left_out)


@pytest.mark.parametrize(
    ("chemistry", "cells", "volts"), [("alkaline", 4, 6.0), ("nimh", 4, 4.8), ("li-ion", 2, 7.4)]
)
def test_nominal_volts_of_cells(chemistry: str, cells: int, volts: float) -> None:
    """Four AA give 6 V by name (1.5 V a cell: IEC 60086-2); NiMH 4.8, two li-ion 7.4 (data sheets)."""
    pack = CellPack(chemistry, "AA", cells, 2000.0, 0.1, 1000.0)  # type: ignore[arg-type]
    part = Part(
        "p", "p", "cells", (Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),), 1.0, "invented", electrical=(pack,)
    )
    assert nominal_volts(part) == pytest.approx(volts)


def test_a_board_of_other_volts_says_what_to_write_instead() -> None:
    """Every board of the catalogue: the rail that it lacks, told with what it has."""
    boards = [part for part in read_catalogue().values() if part.figure(Controller) is not None]
    lacking = [part for part in boards if not pins_meant(part, "5v")]
    assert lacking
    assert len(lacking) < len(boards)
    for part in boards:
        told = unmet(part, Demand(pins=("5v",)))
        assert bool(told) is (part in lacking)
        if told:
            board = "a board of 3.3 V, which takes its supply at 'raw' and gives 3.3 V at '3v3'"
            assert told == f"pin '5v': it is {board}"
        assert unmet(part, Demand(pins=("bus",))) == "pin 'bus'"


@pytest.mark.parametrize(
    ("joins", "instead"),
    [
        ("regulator.out, brain.5v, eyes.VCC", "write brain.raw, as regulator.out feeds this net"),
        ("brain.5v, eyes.VCC", "write brain.3v3, and feed what wants other volts elsewhere"),
    ],
)
def test_a_net_that_names_a_rail_of_other_volts(joins: str, instead: str, tmp_path: Path) -> None:
    """The pin to write is that which the net's own source feeds, else the board's rail."""
    for file in find_train("market-tram").parent.glob("*.yaml"):
        text = file.read_text(encoding="utf-8")
        boards = "choose: [controller-small-5v, controller-compact-5v]"
        text = text.replace(boards, "part: controller-wireless-small")
        text = text.replace("regulator.out, brain.5v, driver.VM, eyes.VCC", joins)
        (tmp_path / file.name).write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as told:
        read_train(tmp_path / "train.yaml")
    (mistake,) = told.value.mistakes
    assert mistake.hint.endswith(instead)
