"""A part without a place is one finding, and what follows from that alone is none."""

from __future__ import annotations

from dataclasses import replace

from fitplan.checks import run_checks
from fitplan.checks.places import check_places, folded
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, poses
from fitplan.model.wired import Harness
from tests.packing.small_trains import block, hollow, train_of

NEEDS = tuple(Need(name, (block(name, (20.0, 10.0, 8.0)),)) for name in ("lamp", "board"))
TRAIN = train_of(
    (hollow("wagon", 10, 6, 9),),
    NEEDS,
    (("light", ("lamp.p0", "board.p0")), ("spare", ("lamp.p1", "board.p1"))),
)
BUILT = BuiltTrain(
    TRAIN,
    (Placement("board", NEEDS[1].candidates[0], "wagon", Place(poses()[0], (16.0, 16.0, 19.2)), "the body"),),
    Harness(),
    (),
)


def test_one_finding_with_its_reason_and_the_nets_that_go_without() -> None:
    """The lamp is told once, with why and which nets miss it; the board has its place."""
    (finding,) = check_places(BUILT, (("lamp", "it is 3 mm too long"),)).findings
    assert (finding.severity, finding.where) == ("stop", "lamp")
    assert finding.message == "lamp has no place: it is 3 mm too long; light and spare go without it"
    assert check_places(replace(BUILT, placements=())).findings[1].where == "board"


def test_findings_about_nothing_else_are_folded() -> None:
    """What names only the lamp or its pins goes; what names the board as well, or the wagon, stays."""

    def finding(where: str) -> Finding:
        return Finding("wire", "stop", where, "is wrong", 1.0, 0.0, "", "mend", "ours")

    outcome = Outcome(
        "wire", tuple(finding(w) for w in ("lamp.p0", "lamp", "lamp, board", "board.p0", "wagon"))
    )
    (left,) = folded((outcome,), BUILT)
    assert [one.where for one in left.findings] == ["lamp, board", "board.p0", "wagon"]
    whole = replace(BUILT, placements=(*BUILT.placements, replace(BUILT.placements[0], need="lamp")))
    assert folded((outcome,), whole) == (outcome,)


def test_no_check_repeats_that_a_part_has_no_place() -> None:
    """Of all checks only one speaks of the lamp alone."""
    findings = [one for outcome in run_checks(BUILT) for one in outcome.findings]
    assert [one.subject for one in findings if one.where.partition(".")[0] == "lamp"] == ["places"]
