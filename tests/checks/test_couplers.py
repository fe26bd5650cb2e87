"""Keyed connector pairs are proposed for couplings, by number, gauge and current of the wires."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.wire_couplers import coupler_outcome, keyed_pairs
from fitplan.files.catalogue import read_catalogue
from fitplan.model.electrical import Connector
from fitplan.routing.harness.harness import wire_train
from tests.routing.test_harness import Flow, built_of

SPOTS = {"p": ("a", 12.0, 10.0), "q": ("b", 40.0, 10.0)}
NETS = {"m": ["p.p0", "q.p0"], "n": ["p.p1", "q.p1"]}


def outcome(connector: str, milliamps: float = 10.0):  # type: ignore[no-untyped-def]
    """Return what is said of two wires over one coupling with a connector, or with none."""
    built = built_of(SPOTS, NETS)
    wiring = replace(built.train.wiring, coupling_connector=connector)
    built = replace(built, train=replace(built.train, wiring=wiring))
    done = wire_train(built, {name: Flow(milliamps, milliamps) for name in NETS})
    return coupler_outcome(built.train, done.harness)


def test_a_keyed_pair_that_serves_is_left_as_it_is() -> None:
    """A keyed pair with enough cavities needs no word; the table shows the order of its cavities."""
    findings, table = outcome("connector-4-keyed")
    assert findings == ()
    assert table is not None
    assert table.rows[0][3:] == ("yes", "as in use", "1 m, 2 n")


@pytest.mark.parametrize(("connector", "words"), [("", "run through"), ("connector-2-header", "either way")])
def test_a_keyed_pair_is_proposed(connector: str, words: str) -> None:
    """Where wires run through, or the pair is not keyed, the smallest keyed pair that serves is named."""
    (finding,), table = outcome(connector)
    assert finding.severity == "note"
    assert words in finding.message
    assert "connector-2-small" in finding.remedy
    assert table is not None
    assert str(table.rows[0][4]).startswith("connector-2-small")


def test_only_pairs_that_take_all_wires_are_proposed() -> None:
    """Every proposed pair has cavities, gauges and current for what crosses; the smallest comes first."""
    built = built_of(SPOTS, NETS)
    wires = wire_train(built, {name: Flow(10.0, 10.0) for name in NETS}).harness.wires
    strong = [replace(wire, current_ma=1500.0) for wire in wires]
    found = keyed_pairs(read_catalogue().values(), strong)
    cavities = []
    for part in found:
        figures = part.figure(Connector)
        assert figures is not None
        assert figures.keyed
        assert figures.max_ma >= 1500
        cavities.append(figures.cavities)
    assert cavities == sorted(cavities)
    assert cavities[0] == 2
    assert keyed_pairs(read_catalogue().values(), [*strong] * 9) == []
