"""One table of exit status for all commands, and a plan that contradicts itself is never handed on."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest

import fitplan.surface
from fitplan.cli import main
from fitplan.errors import ContradictionError
from fitplan.files.plan_json import plan_to_json
from fitplan.model.found import Finding, Outcome
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow, Verdict
from fitplan.model.verdict import fit_verdict
from fitplan.report.lists.verdict_words import fit_words
from fitplan.surface import confirm, write_plan
from fitplan.verify.result import Problem, Report
from tests.checks.workbench import FOLDER


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    """Run the command line in this process and return its exit status."""
    monkeypatch.setattr(sys, "argv", ["fitplan", *arguments])
    try:
        main()
    except SystemExit as end:
        return int(end.code or 0)
    return 0


def with_stop(plan: Plan) -> Plan:
    """Return a plan with a stop, all else as it is."""
    stop = Finding("view", "stop", "front eyes", "sees the floor", 1.0, 0.0, "mm", "raise it", "ours")
    return replace(plan, outcomes=(*plan.outcomes, Outcome("view", (stop,))))


def without_stops(plan: Plan) -> Plan:
    """Return a plan with all its stops taken away."""
    calm = tuple(
        replace(outcome, findings=tuple(one for one in outcome.findings if one.severity != "stop"))
        for outcome in plan.outcomes
    )
    return replace(plan, outcomes=calm)


def written(plan: Plan, path: Path) -> str:
    """Write a plan's JSON and return its name."""
    path.write_bytes(plan_to_json(plan))
    return str(path)


def test_verify_and_compare_end_with_1_while_a_stop_stands(
    harbour_plan: Plan,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The plan holds, but what it says of itself is no good: the same status as from plan itself."""
    calm = written(without_stops(harbour_plan), tmp_path / "calm.json")
    stopped = written(with_stop(harbour_plan), tmp_path / "stopped.json")
    monkeypatch.setattr("fitplan.recheck.recheck", lambda plan, train: Report((), ()))
    assert run(monkeypatch, "verify", calm) == 0
    assert run(monkeypatch, "verify", stopped) == 1
    assert "the plan itself: fits, but" in " ".join(capsys.readouterr().out.split())
    assert run(monkeypatch, "compare", calm, calm) == 0
    assert run(monkeypatch, "compare", calm, stopped) == 1


def test_fit_ends_with_1_when_a_part_fits_nowhere(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The train that cannot work says so in its first line and in its status, as its plan does."""
    assert run(monkeypatch, "fit", "narrow-crane-wagon") == 1
    assert capsys.readouterr().out.startswith("✕ cannot fit: no vehicle holds")


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [
        ({"a": ("cannot fit", "fits"), "b": ("fits",)}, "fits"),
        ({"a": ("cannot fit", "fits after a rebuild"), "b": ("fits",)}, "fits after a rebuild"),
        ({"a": ("cannot fit", "not decided"), "b": ("fits",)}, "not decided"),
        ({"a": ("cannot fit",), "b": ("not decided",)}, "cannot fit"),
        ({}, "fits"),
    ],
)
def test_the_weakest_need_decides_and_of_each_its_best_row(
    verdicts: dict[str, tuple[Verdict, ...]], expected: Verdict
) -> None:
    """What is asked about fits when each need has one vehicle, whatever the other rows say."""
    rows = [
        FitRow(need, f"part {number}", "wagon", verdict, "", "")
        for need, row in verdicts.items()
        for number, verdict in enumerate(row)
    ]
    found = fit_verdict(rows)
    assert found.verdict == expected
    assert found.holds == (expected in ("fits", "fits after a rebuild"))
    assert fit_words(found).startswith(expected)


def test_a_plan_that_does_not_stand_up_is_not_written(harbour_plan: Plan, tmp_path: Path) -> None:
    """A part that is moved into a wall is noticed before anything is written, with what to send."""
    first, *others = harbour_plan.built.placements
    x, y, z = first.place.offset
    moved = replace(first, place=replace(first.place, offset=(x, y, z + 40.0)))
    bad = replace(harbour_plan, built=replace(harbour_plan.built, placements=(moved, *others)))
    with pytest.raises(ContradictionError, match=r"(?s)second check.*fault of fitplan.*the seed \(0\)"):
        write_plan(bad, tmp_path / "build")
    assert not (tmp_path / "build").exists()
    confirm(harbour_plan)


def test_a_contradiction_ends_with_status_3(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The user is told that it is not their fault; nothing is written, on the disk or on standard output."""
    problems = tuple(Problem("overlap", "wagon", f"{number} overlaps") for number in range(20))
    monkeypatch.setattr(fitplan.surface, "recheck", lambda plan: Report((), problems))
    build = tmp_path / "build"
    for more in (("-o", str(build)), ("--json",)):
        assert run(monkeypatch, "plan", "narrow-crane-wagon", *more) == 3
        out, error = capsys.readouterr()
        assert out == "" if "-o" in more else json.loads(out)["status"] == 3
        assert "wagon: 0 overlaps" in error
        assert "12 more" in error
        assert "not yours" in error
    assert not build.exists()


def test_fit_and_check_say_what_stops_a_train(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Parts that fit and nets without a ground are *fits, but*; a stop that a choice avoids is none."""
    wrong, worst = str(FOLDER / "11g-regulator-without-ground.yaml"), "no net joins the ground of lift"
    assert run(monkeypatch, "fit", wrong) == 1
    assert f"✕ fits, but {worst}" in capsys.readouterr().out
    assert run(monkeypatch, "check", wrong) == 1
    assert f"✕ stopped before anything has a place: {worst}" in capsys.readouterr().out
    (tmp_path / "railcar.yaml").write_text((FOLDER / "railcar.yaml").read_text("utf-8"), "utf-8")
    chosen = tmp_path / "chosen.yaml"
    for hours, status in ((20, 0), (200, 1)):
        chosen.write_text(
            "train: chosen\nvehicles: [{name: railcar, file: railcar.yaml}]\n"
            "needs:\n"
            f"  - {{name: cells, choose: {{parts: [cells-aaa-1, cells-aa-2-stack], hours: {hours}}}}}\n"
            "  - {name: lift, part: regulator-step-up-5v-tiny}\n"
            "  - {name: brain, part: controller-small-5v}\n"
            "  - {name: switch, part: switch-slide}\n"
            "usual nets: yes\nrunning: {speed: 100}\n",
            "utf-8",
        )
        assert run(monkeypatch, "check", str(chosen)) == status
        assert ("● nothing stops it so far" in capsys.readouterr().out) is (status == 0)
