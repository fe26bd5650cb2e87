"""What is printed under --json: each document keeps to its schema, and errors are documents, too."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from fitplan.cli import main
from fitplan.errors import FitplanError
from fitplan.files.catalogue import examples_folder
from fitplan.files.plan_json import VERSION, plan_to_json
from fitplan.report.documents import COMMANDS, DOCUMENTS, schema
from tests.conftest import Planned

CRANE = "narrow-crane-wagon"


def printed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str
) -> tuple[int, Any]:
    """Return the exit status of a command, and the document that it printed."""
    monkeypatch.setattr(sys, "argv", ["fitplan", *arguments, "--json"])
    with pytest.raises(SystemExit) as ended:
        main()
    return int(ended.value.code or 0), json.loads(capsys.readouterr().out)


def test_each_command_prints_what_its_schema_says(
    tmp_path: Path,
    planned: Planned,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Format, version and every key, of every command but sweep, which prints what fit does."""
    plan = tmp_path / "plan.json"
    plan.write_bytes(plan_to_json(planned(CRANE)))
    readings = tmp_path / "meter.csv"
    readings.write_text("no.,reading\n1,OL\n", encoding="utf-8")
    vehicle = next((examples_folder() / CRANE).glob("crane*.yaml"))
    asked = {
        "plan": ("plan", CRANE),
        "fit": ("fit", CRANE),
        "check": ("check", CRANE),
        "cavities": ("cavities", str(vehicle)),
        "parts": ("parts", "ranger"),
        "verification": ("verify", str(plan)),
        "comparison": ("compare", str(plan), str(plan)),
        "readings": ("test", str(readings), str(plan)),
        "errors": ("check", "nothing-of-this-name"),
    }
    assert set(asked) == set(COMMANDS)
    for name, arguments in asked.items():
        _, document = printed(monkeypatch, capsys, *arguments)
        assert (document["format"], document["version"]) == (f"fitplan-{name}", VERSION)
        jsonschema.validate(document, schema(name))
    _, shown = printed(monkeypatch, capsys, "parts", "show", "lamp-5mm")
    assert [part["id"] for part in shown["parts"]] == ["lamp-5mm"]


@pytest.mark.parametrize("name", COMMANDS)
def test_schemas_are_schemas_and_are_printed(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each is one by the rules of its draft, refuses other keys, and is what the command prints."""
    jsonschema.Draft202012Validator.check_schema(schema(name))
    assert schema(name)["additionalProperties"] is False
    monkeypatch.setattr(sys, "argv", ["fitplan", "schema", name])
    with pytest.raises(SystemExit):
        main()
    assert json.loads(capsys.readouterr().out) == schema(name)


def test_there_is_no_other_document() -> None:
    """An unknown name is refused, and the names of documents are those that commands print."""
    assert set(COMMANDS) == {"plan", *DOCUMENTS}
    with pytest.raises(FitplanError, match="no document 'fits'; there are plan, fit"):
        schema("fits")


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("check", "nothing-of-this-name"), 2, "found nothing of this name"),
        (("verify", "nothing.json"), 2, "nothing.json: cannot be read"),
        (("parts", "show", "lamp-5cm"), 2, "did you mean 'lamp-5mm'?"),
        (("fit",), 2, "TRAIN"),
        (("plan", CRANE, "--seed", "x"), 2, "--seed"),
        (("fitt",), 2, "fitt"),
    ],
)
def test_errors_are_documents(
    arguments: tuple[str, ...],
    status: int,
    words: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Whatever is wrong, with files or with the words of the command, is said in a document."""
    ended, document = printed(monkeypatch, capsys, *arguments)
    jsonschema.validate(document, schema("errors"))
    assert (ended, document["status"]) == (status, status)
    assert words in document["errors"][0]["message"]


def test_mistakes_in_files_have_their_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """File, line, column, what was found and expected, and the nearest name are keys of their own."""
    train = tmp_path / "train.yaml"
    train.write_text("train: x\nvehicels: []\n", "utf-8")
    _, document = printed(monkeypatch, capsys, "check", str(train))
    first = next(one for one in document["errors"] if one["line"] == 2)
    assert (first["file"], first["column"]) == (train.as_posix(), 1)
    assert first["found"] == "the unknown key 'vehicels'"
    assert first["hint"] == "did you mean 'vehicles'?"


def test_documents_are_listed_for_users() -> None:
    """The README names each document with the commands that print it and what is in it."""
    text = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
    for name, commands in COMMANDS.items():
        called = ", ".join(f"`{word}`" for word in commands if " " not in word) or "any"
        title = schema(name)["title"].rstrip(".")
        assert f"| `fitplan-{name}` | {called} | {title[0].lower()}{title[1:]} |" in text
