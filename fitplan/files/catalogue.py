"""Where the bundled catalogue and examples lie, and reading folders of part files."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from fitplan.errors import InputError, Mistake
from fitplan.files.catalogue_form import read_form
from fitplan.files.document import read_document
from fitplan.files.sources import digest_of_folder
from fitplan.model.part import Part

_PACKAGE = Path(__file__).resolve().parents[1]


def catalogue_folder() -> Path:
    """Return the folder of the bundled catalogue: inside the package, or at the root of a checkout."""
    return _bundled("catalog")


def examples_folder() -> Path:
    """Return the folder of the bundled examples: inside the package, or at the root of a checkout."""
    return _bundled("examples")


def _bundled(name: str) -> Path:
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def _part_files(folder: Path, mistakes: list[Mistake]) -> list[Path]:
    """Return the part files of a folder by name; none when the folder does not exist."""
    try:
        if not folder.is_dir():
            if folder.is_symlink():
                mistakes.append(
                    Mistake(folder, 0, 0, "a link that leads nowhere", "a folder with part files")
                )
            return []
        # What begins with a point is another system's: notes on a file of the same name, say.
        named = [
            path
            for path in folder.iterdir()
            if path.suffix in (".yaml", ".yml") and not path.name.startswith(".")
        ]
        files = [path for path in named if path.is_file()]
        for path in sorted(named):
            if path.is_symlink() and not path.exists():
                mistakes.append(Mistake(path, 0, 0, "a link that leads nowhere", "a file that can be read"))
    except OSError as error:
        found = f"a folder that cannot be read ({error.strerror or error})"
        mistakes.append(Mistake(folder, 0, 0, found, "a folder with part files"))
        return []
    return sorted(files)


def collect_parts(
    folders: Iterable[Path], mistakes: list[Mistake], declared: set[str] | None = None
) -> dict[str, Part]:
    """Return the parts of some folders by id; mistakes go to the list, all ids to the set.

    A part of a later folder takes the place of one of the same id in an earlier folder, so that a user can
    put measured figures in the place of typical ones. Within one folder an id stands once.
    """
    catalogue: dict[str, Part] = {}
    for folder in folders:
        here: dict[str, tuple[Part, Path]] = {}
        for path in _part_files(folder, mistakes):
            # The bundled parts come in a form of their own, and the models of part files take long to build.
            from fitplan.files.part_file import ids_in, parts_of

            document = read_document(path, mistakes)
            if document is None:
                continue
            if declared is not None:
                declared.update(ids_in(document))
            for name, (part, spot) in parts_of(document, path, mistakes).items():
                if name in here:
                    found = f"the part {name!r} again"
                    expected = f"each id once; {here[name][1].name} has it too"
                    mistakes.append(Mistake(path, spot.line, spot.column, found, expected))
                else:
                    here[name] = (part, path)
        catalogue.update({name: part for name, (part, _) in here.items()})
    return dict(sorted(catalogue.items()))


def read_catalogue(folders: Iterable[Path] | None = None) -> dict[str, Part]:
    """Return all parts of some folders by id, in the order of their ids.

    Parameters
    ----------
    folders
        Folders with part files; the bundled catalogue when None. Parts of later folders take the place of
        parts of the same id in earlier ones.

    Raises
    ------
    InputError
        With every mistake in every file.
    """
    if folders is None:
        return dict(_bundled_catalogue())
    mistakes: list[Mistake] = []
    for folder in (folders := [Path(folder) for folder in folders]):
        if not folder.is_dir():
            mistakes.append(Mistake(folder, 0, 0, "no such folder", "a folder with part files"))
    catalogue = collect_parts(folders, mistakes)
    if mistakes:
        raise InputError(mistakes)
    return catalogue


@cache
def _bundled_catalogue() -> dict[str, Part]:
    folder = catalogue_folder()
    known = read_form(folder, bundled_digest())
    return read_catalogue([folder]) if known is None else known


@cache
def bundled_digest() -> str:
    """Return one digest of all files of the bundled catalogue."""
    return digest_of_catalogue(catalogue_folder())


def digest_of_catalogue(folder: Path) -> str:
    """Return one digest of all part files of a folder."""
    return digest_of_folder(folder, (".yaml", ".yml"))
