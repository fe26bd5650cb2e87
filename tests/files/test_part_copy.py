"""Parts of the catalogue copied to be changed: each copy reads back as the very part that it was."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from fitplan.cli import app
from fitplan.errors import FitplanError
from fitplan.files.catalogue import catalogue_folder, collect_parts, read_catalogue
from fitplan.files.leads_form import WIRED_ENDING
from fitplan.files.look_up import part_hint
from fitplan.files.part_copy import part_copy
from fitplan.files.pinned_form import ENDING


def test_every_copy_is_the_part_that_it_was(tmp_path: Path) -> None:
    """One part of each family and every fourth: copied, read back, equal in every figure."""
    whole = read_catalogue()
    first = {part.family: part_id for part_id, part in reversed(whole.items())}
    catalogue = {name: whole[name] for name in dict.fromkeys((*first.values(), *list(whole)[::4]))}
    for number, part_id in enumerate(catalogue):
        (tmp_path / f"{number}.yaml").write_text(part_copy(part_id), encoding="utf-8")
    mistakes: list[object] = []
    found = collect_parts([tmp_path], mistakes)  # type: ignore[arg-type]
    assert mistakes == []
    # A part whose other form follows from it is read back in both forms.
    assert {name: found[name] for name in catalogue} == catalogue
    assert set(found) <= {
        *catalogue,
        *(name + ending for name in catalogue for ending in (ENDING, WIRED_ENDING)),
        *(n.removesuffix(ending) for n in catalogue for ending in (ENDING, WIRED_ENDING)),
    }
    text = part_copy("controller-compact-5v")
    assert "# what it is, for people\n    name:" in text
    assert "# where wires are connected" in text


def test_an_unknown_part_is_told_with_the_nearest() -> None:
    with pytest.raises(FitplanError, match="controller-compact-5v"):
        part_copy("controler-compact-5v")


def test_a_name_like_no_other_leads_to_those_that_share_a_word() -> None:
    """Of a near name the id is told; else the command that lists parts with one of its words, or all."""
    catalogue = read_catalogue()
    assert part_hint("controler-compact-5v", catalogue) == "did you mean 'controller-compact-5v'?"
    assert part_hint("fuse-500ma", catalogue) == "`fitplan parts fuse` lists those like it"
    assert part_hint("zeppelin", catalogue) == "`fitplan parts` lists them"


def test_the_command_writes_a_file_and_replaces_none(tmp_path: Path) -> None:
    """``-o`` writes once; a second time only with ``--force``; ``-o`` without copy is refused."""
    run = CliRunner()
    target = tmp_path / "parts" / "mine.yaml"
    words = ["parts", "copy", "controller-compact-5v", "-o", str(target)]
    assert run.invoke(app, words).exit_code == 0
    assert target.read_text() == part_copy("controller-compact-5v")
    assert run.invoke(app, words).exit_code != 0
    assert run.invoke(app, [*words, "--force"]).exit_code == 0
    assert run.invoke(app, ["parts", "ranger", "-o", str(target)]).exit_code != 0
    assert catalogue_folder().is_dir()
