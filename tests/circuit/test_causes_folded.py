"""Faults of one cause are one: pins told twice, open ends of a net that is missing; each by hand."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from fitplan.circuit.fault_causes import _one_pin_twice, _paired, _turned_or_beside
from fitplan.circuit.fault_kinds import Fault, FaultKind
from fitplan.circuit.supply_tree import Supply

GROUNDED = Fault("signal on ground", ("lamp",), ("ground",), ("lamp.IN",))
LIFTED = Fault("ground pin on signal", ("lamp",), ("light",), ("lamp.GND",))


def test_a_lamp_whose_legs_are_exchanged_is_turned_round() -> None:
    """Its signal on ground and its ground on the signal: one fault about both nets and pins."""
    turned = Fault("polarity reversed", ("lamp",), ("ground", "light"), ("lamp.IN", "lamp.GND"), 1.0, 0.0)
    other = replace(LIFTED, owners=("horn",))
    assert _one_pin_twice([GROUNDED, LIFTED]) == [turned]
    assert _one_pin_twice([LIFTED, GROUNDED]) == [turned]
    assert _one_pin_twice([GROUNDED, other]) == [GROUNDED, other]
    assert _one_pin_twice([other, GROUNDED, LIFTED]) == [other, turned]
    both = replace(GROUNDED, owners=("lamp", "horn"))
    assert _one_pin_twice([both, replace(LIFTED, owners=both.owners)]) == [
        both,
        replace(LIFTED, owners=both.owners),
    ]


AGAIN: tuple[tuple[FaultKind, FaultKind, bool], ...] = (
    ("grounds apart", "ground pin on plus", True),
    ("grounds apart", "ground pin on signal", True),
    ("grounds apart", "polarity reversed", True),
    ("grounds apart", "outputs shorted", False),
    ("net joins nothing", "outputs shorted", True),
    ("net joins nothing", "role of a net", False),
    ("net without source", "role of a net", True),
    ("signal without sender", "role of a net", True),
    ("signal without sender", "outputs shorted", False),
    ("part without supply", "role of a net", False),
)


@pytest.mark.parametrize(("kind", "cause", "folded"), AGAIN)
def test_what_is_told_of_a_pin_already(kind: FaultKind, cause: FaultKind, folded: bool) -> None:
    """By owner where it is a ground, by net where it is a net; of others both stay."""
    one, by = Fault(kind, ("lamp",), ("light",)), Fault(cause, ("lamp",), ("light",))
    for order in ([one, by], [by, one]):
        assert _one_pin_twice(order) == ([by] if folded else order)
    elsewhere = replace(by, owners=("horn",), nets=("five",))
    assert _one_pin_twice([one, elsewhere]) == [one, elsewhere]


SWITCH = Fault("switch open", ("switch",))
BUCK = Fault("regulator feeds nobody", ("buck",))
ENTRY = Fault("regulator input open", ("buck",), (), ("buck.IN",))
LAMP = Fault("part without supply", ("lamp",), (), ("lamp.VCC",))
HORN = Fault("part without supply", ("horn",))


@pytest.mark.parametrize(
    ("found", "told"),
    [
        ([], []),
        ([SWITCH], [SWITCH]),
        ([LAMP], [LAMP]),
        ([SWITCH, ENTRY], [replace(SWITCH, follows=("buck",), instead="buck.IN")]),
        ([ENTRY, SWITCH, LAMP], [replace(SWITCH, follows=("buck", "lamp"), instead="buck.IN and lamp.VCC")]),
        ([SWITCH, HORN], [replace(SWITCH, follows=("horn",), instead="horn")]),
        ([SWITCH, HORN, LAMP], [replace(SWITCH, follows=("horn", "lamp"), instead="lamp.VCC")]),
        ([BUCK, LAMP], [replace(BUCK, follows=("lamp",), instead="lamp.VCC")]),
        ([BUCK, ENTRY], [BUCK, ENTRY]),
        ([BUCK, replace(ENTRY, owners=("other",))], [BUCK, replace(ENTRY, owners=("other",))]),
        ([replace(BUCK, nets=("five",)), LAMP], [replace(BUCK, nets=("five",)), LAMP]),
        ([replace(SWITCH, nets=("plus",)), LAMP],
         [replace(SWITCH, nets=("plus",), follows=("lamp",), instead="lamp.VCC")]),
        ([SWITCH, BUCK, LAMP], [SWITCH, BUCK, LAMP]),
        ([SWITCH, replace(LAMP, nets=("five",))], [SWITCH, replace(LAMP, nets=("five",))]),
        ([SWITCH, replace(LAMP, owners=("switch",))], [SWITCH, replace(LAMP, owners=("switch",))]),
    ],
)  # fmt: skip
def test_the_net_between_two_open_ends_is_missing(found: list[Fault], told: list[Fault]) -> None:
    """One open output takes all open inputs with it; of two nobody can tell which was meant."""
    assert _paired(found) == told


def test_without_a_source_nothing_follows_from_one() -> None:
    """Where no tree is fed, what is turned round or beside another is told for itself."""
    kinds: tuple[FaultKind, ...] = ("polarity reversed", "net without source", "grounds apart")
    faults = [Fault(kind, ("cell",)) for kind in kinds]
    for order in itertools.permutations(faults):
        assert _turned_or_beside(list(order), Supply(())) == list(order)
    beside = [Fault("sources in parallel", ("a", "b")), Fault("supply feeds nobody", ("b",))]
    assert _turned_or_beside(beside, Supply(())) == beside[:1]
    assert _turned_or_beside([beside[0], replace(beside[1], owners=("c",))], Supply(())) == [
        beside[0], replace(beside[1], owners=("c",)),
    ]  # fmt: skip
