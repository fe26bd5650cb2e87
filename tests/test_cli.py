"""The command line, as a user types it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from fitplan.cli import main
from fitplan.files.find import example_names, find_train
from fitplan.files.plan_json import plan_to_json
from fitplan.files.read import read_train
from tests.conftest import Planned


def run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    """Run the command line in this process and return its exit status."""
    monkeypatch.setattr(sys, "argv", ["fitplan", *arguments])
    try:
        main()
    except SystemExit as end:
        return int(end.code or 0)
    return 0


def test_plan_writes_a_folder_that_verify_accepts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A new starter is planned into a folder with all lists, and its plan holds."""
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, "new", "mine") == 0
    assert run(monkeypatch, "plan", "mine/train.yaml", "-o", "build") == 0
    assert "Everything fits" in capsys.readouterr().out
    for name in ("plan.json", "parts.csv", "harness.csv", "bundles.csv", "report.html"):
        assert (tmp_path / "build" / name).stat().st_size > 0
    assert run(monkeypatch, "verify", "build") == 0


def test_a_starter_never_overwrites(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second fitplan new into the same folder changes nothing and says so."""
    monkeypatch.chdir(tmp_path)
    run(monkeypatch, "new", "mine")
    before = {path: path.read_bytes() for path in Path("mine").rglob("*") if path.is_file()}
    assert run(monkeypatch, "new", "mine") == 2
    assert {path: path.read_bytes() for path in Path("mine").rglob("*") if path.is_file()} == before
    assert "mine" in capsys.readouterr().err


def test_a_wrong_file_ends_with_status_2_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown key is named with its line and nearest name; the output folder is not made."""
    monkeypatch.chdir(tmp_path)
    run(monkeypatch, "new", "mine")
    train = Path("mine/train.yaml")
    train.write_text(train.read_text(encoding="utf-8").replace("vehicles:", "vehicels:", 1), encoding="utf-8")
    assert run(monkeypatch, "plan", "mine/train.yaml", "-o", "build") == 2
    assert not Path("build").exists()
    error = capsys.readouterr().err
    assert "vehicels" in error
    assert "did you mean" in error


def test_an_unknown_train_names_the_nearest_example(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A misspelt example is answered with the right name and status 2."""
    assert run(monkeypatch, "check", "harbor-line") == 2
    assert "harbour-line" in capsys.readouterr().err


def test_check_shows_what_was_understood(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Checking the demo prints its vehicles and needs."""
    run(monkeypatch, "check", "harbour-line")
    out = capsys.readouterr().out
    assert "shunter" in out
    assert "front eyes" in out


def test_parts_lists_finds_and_shows(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The catalogue is listed whole, by word, and one part at a time; JSON is JSON."""
    assert run(monkeypatch, "parts", "--json") == 0
    every = json.loads(capsys.readouterr().out)["parts"]
    assert len(every) >= 40
    assert run(monkeypatch, "parts", "ranger", "--json") == 0
    found = json.loads(capsys.readouterr().out)["parts"]
    assert 0 < len(found) < len(every)
    assert run(monkeypatch, "parts", "show", "controller-compact-5v") == 0
    assert "45" in capsys.readouterr().out
    assert run(monkeypatch, "parts", "show", "controller-compakt-5v") == 2
    assert "controller-compact-5v" in capsys.readouterr().err


def test_help_and_version_run_as_a_program() -> None:
    """The installed module answers --help and --version in a process of its own."""
    for option, words in (("--help", "plan"), ("--version", "fitplan")):
        done = subprocess.run(
            [sys.executable, "-m", "fitplan", option], capture_output=True, text=True, check=True
        )
        assert words in done.stdout


def test_a_measured_vehicle_goes_through_a_mesh_and_its_cavities_are_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """measure writes a vehicle, its mesh becomes a vehicle again, and cavities finds room in it."""
    from fitplan.files.read import read_vehicle
    from tests.meshes.models import vehicle_glb

    monkeypatch.chdir(tmp_path)
    assert (
        run(monkeypatch, "vehicle", "measure", "box wagon", "--defaults", "--set", "long=14", "-o", "w.yaml")
        == 0
    )
    vehicle = read_vehicle(Path("w.yaml"))
    assert vehicle.studs_long == 14
    Path("w.glb").write_bytes(vehicle_glb(vehicle))
    assert run(monkeypatch, "vehicle", "from-mesh", "w.glb", "--kind", "wagon", "-o", "again.yaml") == 0
    assert run(monkeypatch, "cavities", "again.yaml", "--json") == 0
    out = capsys.readouterr().out
    found = json.loads(out[out.index("{\n") :])["cavities"]
    assert found[0]["volume_mm3"] > 10_000


def test_a_form_that_is_not_known_names_the_nearest(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A misspelt body form and a damaged answer end with status 2 and the right word."""
    assert run(monkeypatch, "vehicle", "measure", "hod loco", "--defaults") == 2
    assert "hood loco" in capsys.readouterr().err
    assert run(monkeypatch, "vehicle", "measure", "hood loco", "--set", "long=x", "--defaults") == 2
    assert "KEY=NUMBER" in capsys.readouterr().err


def test_sweep_and_fit_print_rows_as_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A sweep of stamp boards gives one row a board and vehicle, and goes on from its journal."""
    monkeypatch.chdir(tmp_path)
    run(monkeypatch, "new", "mine")
    capsys.readouterr()
    arguments = ("sweep", "mine", "--parts", "stamp", "--processes", "1", "-o", "journal.jsonl", "--json")
    assert run(monkeypatch, *arguments) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    assert rows
    assert {row["verdict"] for row in rows} <= {"fits", "fits after a rebuild", "cannot fit", "not decided"}
    assert run(monkeypatch, *arguments) == 0
    assert json.loads(capsys.readouterr().out)["rows"] == rows


def test_two_plans_are_compared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, planned: Planned) -> None:
    """A plan compared with itself shows no change; one plan alone is not enough."""
    monkeypatch.chdir(tmp_path)
    Path("one").mkdir()
    Path("one/plan.json").write_bytes(plan_to_json(planned("clay-run")))
    assert run(monkeypatch, "compare", "one", "one", "-o", "changes.html") == 0
    assert Path("changes.html").stat().st_size > 0
    assert run(monkeypatch, "compare", "one") == 2


@pytest.mark.parametrize("name", example_names())
def test_an_example_is_copied_to_start_from(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The copy reads as the same train, without pictures; a second copy into it changes nothing."""
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, "new", "mine", "--from", name) == 0
    assert read_train(Path("mine/train.yaml")) == read_train(find_train(name))
    assert not list(Path("mine").rglob("*.png"))
    assert run(monkeypatch, "new", "mine", "--from", name) == 2
    assert "not empty" in capsys.readouterr().err


def test_an_example_that_is_none_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the nearest name, and nothing is made."""
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, "new", "mine", "--from", "clayrun") == 2
    assert "did you mean 'clay-run'?" in capsys.readouterr().err
    assert not Path("mine").exists()
