"""The catalogue's form says what its files say, and is not used where they say anything else."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest

from fitplan.files import catalogue
from fitplan.files.catalogue import bundled_digest, catalogue_folder, digest_of_catalogue, read_catalogue
from fitplan.files.catalogue_form import FORM, read_form


def kinds(value: object) -> object:
    """Return of which kind each figure of a part is: whole numbers are told from others."""
    if isinstance(value, tuple):
        return tuple(kinds(item) for item in value)
    if dataclasses.is_dataclass(value):
        return tuple(kinds(getattr(value, field.name)) for field in dataclasses.fields(value))
    return str if isinstance(value, str) else type(value)


def test_the_form_says_what_the_files_say() -> None:
    """Part by part, in the same order, to the kind of each figure."""
    form, files = read_form(catalogue_folder(), bundled_digest()), read_catalogue([catalogue_folder()])
    assert form is not None
    assert list(form.items()) == list(files.items())
    assert [kinds(part) for part in form.values()] == [kinds(part) for part in files.values()]


def test_a_changed_catalogue_is_read_from_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A form that is of other files, damaged or not there is not used, and nothing is said of it."""
    own, folder = read_catalogue([catalogue_folder()]), tmp_path / "catalog"
    shutil.copytree(catalogue_folder(), folder)
    monkeypatch.setattr(catalogue, "_PACKAGE", tmp_path)
    for cached in (catalogue._bundled_catalogue, catalogue.bundled_digest):
        monkeypatch.setattr(catalogue, cached.__name__, cached.__wrapped__)
    lamps = folder / "lamps.yaml"
    lamps.write_text(lamps.read_text("utf-8").replace("mass: ", "mass: 1"), "utf-8")
    assert read_form(folder, digest_of_catalogue(folder)) is None
    changed = read_catalogue()
    assert changed == read_catalogue([folder]) != own
    digest = digest_of_catalogue(folder)
    for damaged in ("", f'"{digest}"\n{{"id": 3}}\n', f'"{digest}"\n{{"id":'):
        (folder / FORM).write_text(damaged, "utf-8")
        assert read_form(folder, digest) is None
    (folder / FORM).unlink()
    assert read_form(folder, digest) is None
