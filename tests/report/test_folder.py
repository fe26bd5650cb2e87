"""The folder of all files: complete, named in its index, the same each time, with safe names."""

from __future__ import annotations

import json
import re

import pytest

from fitplan.model.plan import Plan
from fitplan.report.plan_folder import plan_files

from .reading import PageReader
from .sample import HOSTILE, sample_plan, sample_plan_anew


@pytest.fixture(scope="module")
def plan() -> Plan:
    return sample_plan()


@pytest.fixture(scope="module")
def files(plan: Plan) -> dict[str, bytes]:
    return plan_files(plan)


def test_everything_that_is_promised_is_there(files: dict[str, bytes]) -> None:
    """The page, the sheets, the lists, the drawings, the meshes, the header, the plan and its schema."""
    wanted = {
        "report.html",
        "sheets.pdf",
        "summary.txt",
        "lists.xlsx",
        "parts.csv",
        "harness.csv",
        "bundles.csv",
        "drawings/wiring.svg",
        "meshes/train.glb",
        "train_pins.h",
        "bring_up.cpp",
        "plan.json",
        "plan.schema.json",
    }
    assert wanted <= set(files)
    assert any(name.endswith(".stl") for name in files)
    assert sum("-layer-" in name for name in files) >= 3


def test_the_page_names_every_other_file(files: dict[str, bytes]) -> None:
    """Each file but the page itself has its link on the page, and each link its file."""
    read = PageReader(files["report.html"].decode("utf-8"))
    links = [attributes["href"] or "" for tag, attributes in read.tags if tag == "a"]
    links = [link for link in links if not link.startswith(("#", "sheets.pdf#page="))]
    assert links == [name for name in files if name != "report.html"]


def test_files_begin_as_their_kinds_do(files: dict[str, bytes]) -> None:
    """The first bytes are those that the formats ask for (PDF 32000-1; glTF 2.0; PKZIP; XML 1.0)."""
    begin = {
        ".pdf": b"%PDF-",
        ".glb": b"glTF",
        ".xlsx": b"PK\x03\x04",
        ".svg": b"<?xml",
        ".html": b"<!doctype html>",
    }
    for name, content in files.items():
        for ending, start in begin.items():
            if name.endswith(ending):
                assert content.startswith(start), name
    json.loads(files["plan.json"])


def test_same_plan_same_bytes(files: dict[str, bytes]) -> None:
    """Every file of a plan is the same to the byte when it is made again."""
    again = plan_files(sample_plan_anew())
    assert list(again) == list(files)
    assert [name for name in files if files[name] != again[name]] == []


def test_file_names_hold_nothing_of_the_users_names() -> None:
    """Whatever things are called, file names are plain: small letters, digits, hyphens, points."""
    for name in plan_files(sample_plan("".join(HOSTILE[:5]))):
        assert re.fullmatch(r"([a-z]+/)?[a-z0-9_.-]+", name), name
        assert ".." not in name
