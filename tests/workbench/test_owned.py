"""What is in the drawer and on the spools comes off the list, and no more than is there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.errors import InputError
from fitplan.files.read import read_train
from fitplan.files.starter import write_starter
from fitplan.model.buying import Article
from fitplan.model.on_hand import OnHand
from fitplan.model.wiring import Spool
from fitplan.workbench.owned import READY_CRIMPED, less_what_is_owned


def part(name: str, needed: int, spare: int = 0) -> Article:
    return Article("electronics", name, needed, spare, "pcs", ("a",), part=name)


def wire(awg: int, colour: str, metres: float) -> Article:
    name = f"stranded wire, AWG {awg}, {colour}"
    return Article("wire and crimping", name, metres, metres / 10, "m", ("wire 1",))


@given(
    counts=st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 5), st.integers(0, 2)), max_size=6),
    drawer=st.dictionaries(st.sampled_from("abcd"), st.integers(0, 9)),
)
def test_drawer_and_list_together_are_what_is_wanted(
    counts: list[tuple[str, int, int]], drawer: dict[str, int]
) -> None:
    """For each part: what is taken is all that is wanted, or all that is there."""
    articles = [part(name, needed, spare) for name, needed, spare in counts]
    found = less_what_is_owned(articles, OnHand(tuple(drawer.items())), ())
    for name in "abcd":
        mine = [one for one in found if one.part == name]
        wanted = sum(one.needed + one.spare for one in mine)
        taken = sum(one.owned for one in mine)
        assert taken == min(wanted, drawer.get(name, 0))
        assert sum(one.buy for one in mine) == wanted - taken
    assert [replace(one, owned=0.0) for one in found] == articles


def test_spools_by_colour_and_gauge() -> None:
    """A spool of one gauge serves that alone; one without a gauge any; without metres none."""
    articles = [wire(24, "RD", 2.0), wire(28, "RD", 1.0), wire(28, "BK", 1.0)]
    of_one = less_what_is_owned(articles, OnHand(), [Spool("RD", 5.0, 28)])
    assert [one.owned for one in of_one] == [0.0, 1.1, 0.0]
    of_any = less_what_is_owned(articles, OnHand(), [Spool("RD", 3.0), Spool("BK")])
    assert [round(one.owned, 9) for one in of_any] == [2.2, 0.8, 0.0]


def test_without_a_crimping_tool_contacts_come_on_leads() -> None:
    """Contacts are bought ready-crimped; what is in the drawer is not bought at all."""
    contact = Article("wire and crimping", "pin contact for a pair", 4, 2, "pcs", ("c",))
    (told,) = less_what_is_owned([contact], OnHand(tools=("soldering iron",)), ())
    assert told.note.startswith(READY_CRIMPED)
    assert less_what_is_owned([contact], OnHand(), ()) == (contact,)


def test_what_is_owned_is_chosen_first(tmp_path: Path) -> None:
    """Of a family the part in the drawer comes first; without an iron nothing is soldered."""
    path = write_starter(tmp_path / "train")
    text = path.read_text("utf-8").replace("[controller-small-5v, controller-compact-5v]", "controller")
    path.write_text(f"{text}owned: {{parts: {{controller-large-54: 1}}, tools: [meter]}}\n", "utf-8")
    train = read_train(path)
    ids = [one.id for one in train.needs[0].candidates]
    assert ids[0] == "controller-large-54"
    assert train.owned.count("controller-large-54") == 1
    assert not train.wiring.solder
    path.write_text(f"{text}owned: {{parts: {{controller-larg-54: 1}}}}\n", "utf-8")
    with pytest.raises(InputError, match="unknown part 'controller-larg-54'"):
        read_train(path)
