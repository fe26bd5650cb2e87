"""Access: how what is exchanged is come by, held against what the user allows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.access import check_access
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Exchange
from fitplan.model.train import TrainVehicle
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import need, part, train, vehicle

UP = (("+z", 40.0),)
OUT = WayOut(("cells",), "roof", UP)
OFTEN = Exchanged("cells", "v", "cells", often=True, reached=True, cells=True, last=OUT)


def run(entry: Exchanged, allowed: Exchange) -> tuple[Finding, tuple[str | float, ...]]:
    """The finding and the table's row of one thing that is exchanged."""
    cells = replace(need("cells", part("holder")), exchange=allowed)
    made = train([cells, need("board", part("board"))], [], [TrainVehicle("v", vehicle())])
    outcome = check_access(BuiltTrain(made, (), Harness(), (), (), (entry,)))
    (found,), (table,) = outcome.findings, outcome.tables
    return found, table.rows[0]


def test_nothing_but_a_lid() -> None:
    """Cells that come straight out are a note, and the table says what to open."""
    found, row = run(OFTEN, Exchange())
    assert found.severity == "note"
    assert "with roof opened, and nothing else comes out" in found.message
    assert row[3:] == ("often", "roof", "nothing", "nothing but a lid")


@pytest.mark.parametrize(("parts", "bricks", "severity"), [(0, 0, "stop"), (1, 0, "stop"), (1, 1, "note")])
def test_parts_and_bricks_each_have_their_allowance(parts: int, bricks: int, severity: str) -> None:
    """A board and a brick over the cells are a stop until one of each is allowed."""
    entry = replace(OFTEN, bricks=("beam",), first=(WayOut(("board",), "roof", UP),))
    found, row = run(entry, Exchange(parts_out=parts, bricks_out=bricks))
    assert found.severity == severity
    assert "first beam, then board must come out" in found.message
    assert row[5] == "beam, then board"
    if severity == "stop":
        assert (found.figure, found.limit) == (2.0, parts + bricks)
        assert "exchange: {parts out: 1, bricks out: 1}" in found.remedy


def test_parts_that_leave_as_one_count_too() -> None:
    """Cells that only come out together with a board take one part out."""
    entry = replace(OFTEN, last=WayOut(("board", "cells"), "roof", UP))
    assert run(entry, Exchange())[0].severity == "stop"
    assert run(entry, Exchange(parts_out=1))[0].severity == "note"


def test_what_is_never_reached() -> None:
    """Cells that are reached by no lid are a stop whatever is allowed; a socket for building is a caution."""
    shut = replace(OFTEN, reached=False, last=None)
    found, row = run(shut, Exchange(parts_out=9, bricks_out=9))
    assert (found.severity, found.unit) == ("stop", "ways out")
    assert row[4] == "not reached"
    assert run(replace(shut, often=False), Exchange())[0].severity == "caution"


def test_a_socket_for_building_has_no_limit() -> None:
    """A console behind a board is a note; one for which its own part must come out is a caution."""
    console = replace(OFTEN, access="socket", often=False, cells=False)
    plug = replace(console, first=(WayOut(("board",), "roof", UP),), last=WayOut((), "roof", UP))
    found, row = run(plug, Exchange())
    assert (found.severity, row[6]) == ("note", "anything")
    assert "first board must come out" in found.message
    found, _ = run(console, Exchange())
    assert found.severity == "caution"
    assert "cells itself must come out for it" in found.message
