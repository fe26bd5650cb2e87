"""Reading what users write: a vehicle, a train with all that belongs to it, or a catalogue."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from fitplan.errors import InputError, Mistake
from fitplan.files.catalogue import bundled_digest, collect_parts, read_catalogue
from fitplan.files.document import Block, read_document, shown
from fitplan.files.sources import CATALOGUE, listening, source_files
from fitplan.files.train_read import other_wirings_of, train_of
from fitplan.files.vehicle_read import vehicle_of
from fitplan.model.part import Part
from fitplan.model.train import SourceFile, Train
from fitplan.model.vehicle import Vehicle

__all__ = ["read_catalogue", "read_other_wirings", "read_train", "read_vehicle"]


def read_vehicle(path: Path) -> Vehicle:
    """Return the vehicle of a vehicle file.

    Raises
    ------
    InputError
        With every mistake in the file.
    """
    mistakes: list[Mistake] = []
    document = read_document(Path(path), mistakes)
    vehicle = vehicle_of(document, Path(path), mistakes) if document is not None else None
    if mistakes or vehicle is None:
        raise InputError(mistakes)
    return vehicle


def read_train(path: Path, catalogue: Mapping[str, Part] | None = None) -> Train:
    """Return the train of a train file, with its vehicles and its own parts.

    Parameters
    ----------
    path
        The train file. Vehicle files are looked for from its folder; part files in a folder ``parts`` beside
        it are read too, and replace parts of the same id.
    catalogue
        The parts that it may refer to; the bundled catalogue when None.

    Raises
    ------
    InputError
        With every mistake in the train file, its vehicle files and its own part files.
    """
    with listening() as read:
        found = _opened(Path(path), catalogue)
        train = train_of(found.document, found.path, found.catalogue, found.declared, found.mistakes)
    if found.mistakes or train is None:
        raise InputError(found.mistakes)
    return _with_files(train, read, found.path, catalogue is None)


def read_other_wirings(path: Path, catalogue: Mapping[str, Part] | None = None) -> Iterator[Train]:
    """Yield a train without mistakes again, each time with parts to choose from that are wired alike.

    The usual nets are those of the parts that are left. Nothing where all nets are written, or where all
    parts of each choice are wired alike as it is.
    """
    with listening() as read:
        found = _opened(Path(path), catalogue)
        trains = list(other_wirings_of(found.document, found.path, found.catalogue, found.declared))
    for train in trains:
        yield _with_files(train, read, found.path, catalogue is None)


@dataclass(frozen=True)
class _TrainDocument:
    """A train file that could be read as YAML, and the parts that it may refer to."""

    path: Path
    document: Block
    catalogue: Mapping[str, Part]
    declared: frozenset[str]
    mistakes: list[Mistake]


def _opened(path: Path, catalogue: Mapping[str, Part] | None) -> _TrainDocument:
    mistakes: list[Mistake] = []
    declared: set[str] = set()
    known = dict(read_catalogue() if catalogue is None else catalogue)
    known.update(collect_parts([path.parent / "parts"], mistakes, declared))
    document = read_document(path, mistakes)
    if document is None:
        raise InputError(mistakes)
    if other := _other_kind(document):
        raise InputError([Mistake(path, 0, 0, other, "a train file, which begins with `train:`")])
    return _TrainDocument(path, document, dict(sorted(known.items())), frozenset(declared), mistakes)


def _with_files(train: Train, read: dict[Path, str], path: Path, bundled: bool) -> Train:
    files = source_files(read, path.parent)
    if bundled:
        files = (*files, SourceFile(CATALOGUE, bundled_digest()))
    return replace(train, files=files)


def _other_kind(document: Block) -> str:
    """Return what else a document is that stands in the place of a train; empty when it may be one."""
    if "train" in document or "needs" in document or "vehicles" in document:
        return ""
    if "vehicle" in document and "footprint" in document:
        return f"the vehicle file of {shown(document['vehicle'])}"
    return "a file of parts" if "parts" in document else ""
