"""Ask of many parts and all vehicles whether they fit, on all cores; what is answered is kept as it comes.

Answers go to a journal, one JSON object a line, each as soon as it is there.  A sweep that was stopped goes
on where it left off; a journal of another train or another version is refused.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, fields, is_dataclass, replace
from multiprocessing import get_context
from pathlib import Path

from fitplan.budget import Budget
from fitplan.errors import OutputError
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.proposed import FitRow
from fitplan.model.train import Train
from fitplan.packing.vehicle.pack import Packer
from fitplan.planning.fit_table import fit_row
from fitplan.processes import die_with_parent, interrupts_held_back, processors

JOURNAL_VERSION = 1

_train: Train | None = None
_packer: Packer | None = None
_budget: Budget | None = None


def sweep(
    train: Train,
    parts: Sequence[Part],
    *,
    journal: Path | None = None,
    processes: int | None = None,
    effort: float = 1.0,
    seed: int = 0,
    progress: Callable[[str, float], None] | None = None,
) -> tuple[FitRow, ...]:
    """Return one row for every part and vehicle, in the order given.

    Parameters
    ----------
    journal
        File of answers; what it already holds is not asked again.
    processes
        How many work at once; None: one for each core.
    effort
        So many times the usual work for each question.

    Raises
    ------
    OutputError
        When the journal is of another train, or cannot be read or written.
    """
    (rows,) = sweep_trains(
        [(train, parts)], journal=journal, processes=processes, effort=effort, seed=seed, progress=progress
    )
    return rows


def sweep_trains(
    trains: Sequence[tuple[Train, Sequence[Part]]],
    *,
    journal: Path | None = None,
    processes: int | None = None,
    effort: float = 1.0,
    seed: int = 0,
    progress: Callable[[str, float], None] | None = None,
) -> Iterator[tuple[FitRow, ...]]:
    """Give the rows of each train in turn, as `sweep` does for one; one journal holds the answers of all.

    Workers and what they know of a train are let go before the next train, so memory does not grow with their
    number.
    """
    marks = [_mark(train, effort, seed) for train, _ in trains]
    known = _read(journal, frozenset(marks)) if journal is not None else {}
    for number, ((train, parts), mark) in enumerate(zip(trains, marks, strict=True)):
        share = _share_of(progress, number, len(trains), train.name)
        yield _swept(
            train, parts, known.setdefault(mark, {}), (journal, mark), processes, effort, seed, share
        )


def _share_of(
    progress: Callable[[str, float], None] | None, number: int, count: int, name: str
) -> Callable[[str, float], None] | None:
    """Return progress in one of several trains as progress in all."""
    if progress is None or count == 1:
        return progress
    return lambda stage, share: progress(f"{name}: {stage}", (number + share) / count)


def _swept(
    train: Train,
    parts: Sequence[Part],
    known: dict[tuple[str, str], FitRow],
    noted: tuple[Path | None, str],
    processes: int | None,
    effort: float,
    seed: int,
    progress: Callable[[str, float], None] | None,
) -> tuple[FitRow, ...]:
    """Ask what is not known yet, note each answer in the journal with its mark, and return all rows."""
    journal, mark = noted
    asked = [(part, entry.name) for part in parts for entry in train.vehicles]
    open_ = [(part, name) for part, name in asked if (part.id, name) not in known]
    if progress is not None:
        progress("asking", 1 - len(open_) / max(len(asked), 1))
    if open_:
        workers = min(processes or processors(), len(open_))
        answers = _alone(train, open_, effort, seed) if workers == 1 else None
        if answers is None:
            answers = _together(train, open_, effort, seed, workers)
        for row in answers:
            known[row.part_id, row.vehicle] = row
            if journal is not None:
                _note(journal, mark, row)
            if progress is not None:
                progress(f"{row.part_id} in {row.vehicle}", len(known) / len(asked))
    return tuple(known[part.id, name] for part, name in asked)


def _alone(train: Train, asked: Sequence[tuple[Part, str]], effort: float, seed: int) -> Iterable[FitRow]:
    _start(train, effort, seed)
    return (_ask(part, name) for part, name in asked)


def _together(
    train: Train, asked: Sequence[tuple[Part, str]], effort: float, seed: int, workers: int
) -> Iterable[FitRow]:
    try:
        pool = ProcessPoolExecutor(
            workers,
            mp_context=get_context("spawn"),
            initializer=_start_worker,
            initargs=(train, effort, seed),
        )
    except OSError:
        # No memory that processes share can be had: no folder for it, or none that may be written to.
        yield from _alone(train, asked, effort, seed)
        return
    left = list(asked)
    try:
        with interrupts_held_back():
            waiting = {pool.submit(_ask, part, name): (part, name) for part, name in asked}
        for done in as_completed(waiting):
            yield done.result()
            left.remove(waiting[done])
    except BrokenProcessPool:
        # A worker was killed, for want of memory say: what is left is asked here, one after the other.
        yield from _alone(train, left, effort, seed)
    finally:
        pool.shutdown(cancel_futures=True)


def _start_worker(train: Train, effort: float, seed: int) -> None:
    die_with_parent()
    _start(train, effort, seed)


def _start(train: Train, effort: float, seed: int) -> None:
    global _train, _packer, _budget
    _train = train
    vehicles = {entry.name: entry.vehicle for entry in train.vehicles}
    _budget = Budget.usual(effort=effort)
    _packer = Packer(vehicles, _budget, seed=seed)


def _ask(part: Part, name: str) -> FitRow:
    assert _train is not None
    assert _packer is not None
    assert _budget is not None
    row = fit_row(_train, _packer, Need(part.id, (part,)), part, name, _budget)
    return replace(row, places=())  # a journal of thousands of answers keeps none


def _mark(train: Train, effort: float, seed: int) -> str:
    """Return what tells journals of different questions apart."""
    asked = _words((train.vehicles, train.needs, train.catalogue, effort, seed))
    return hashlib.sha256(asked.encode()).hexdigest()[:16]


def _words(value: object) -> str:
    """Return a value in words that are the same in every process: sets have no order of their own."""
    if is_dataclass(value) and not isinstance(value, type):
        inner = ", ".join(f"{entry.name}={_words(getattr(value, entry.name))}" for entry in fields(value))
        return f"{type(value).__name__}({inner})"
    if isinstance(value, Mapping):
        return "{" + ", ".join(sorted(f"{_words(key)}: {_words(own)}" for key, own in value.items())) + "}"
    if isinstance(value, frozenset | set):
        return "{" + ", ".join(sorted(_words(own) for own in value)) + "}"
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_words(own) for own in value) + "]"
    return repr(value)


def _read(journal: Path, marks: frozenset[str]) -> dict[str, dict[tuple[str, str], FitRow]]:
    """Return the answers of a journal by the mark of their train; all must be of these trains."""
    if not journal.exists():
        return {}
    known: dict[str, dict[tuple[str, str], FitRow]] = {}
    try:
        lines = journal.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise OutputError(f"cannot read the journal {journal}: {error}") from None
    for number, line in enumerate(lines, 1):
        try:
            entry = json.loads(line)
            version, of = entry["version"], entry["train"]
            row = FitRow(**{**entry["row"], "remove": tuple(entry["row"]["remove"])})
        except (ValueError, KeyError, TypeError):
            if number == len(lines) and _begun(line):
                # The sweep was cut off while it wrote this line: it is asked again, the line goes.
                _shorten(journal, len("\n".join(lines[:-1]).encode()) + (len(lines) > 1))
                break
            raise OutputError(f"{journal}:{number}: found no answer of a sweep; name another file") from None
        if version != JOURNAL_VERSION or of not in marks:
            raise OutputError(
                f"{journal}:{number}: found answers about another train, other parts or other settings;"
                " name another file, or delete this one"
            )
        known.setdefault(of, {})[row.part_id, row.vehicle] = row
    return known


def _begun(line: str) -> bool:
    """Return whether a line is the beginning of an answer, and nobody's own text."""
    begin = f'{{"version": {JOURNAL_VERSION}, "train": "'
    return line.startswith(begin) or begin.startswith(line)


def _shorten(journal: Path, size: int) -> None:
    with journal.open("r+b") as file:
        file.truncate(size)


def _note(journal: Path, mark: str, row: FitRow) -> None:
    said = {name: value for name, value in asdict(row).items() if name != "places"}
    line = json.dumps({"version": JOURNAL_VERSION, "train": mark, "row": said}, ensure_ascii=False)
    try:
        with journal.open("a", encoding="utf-8") as file:
            file.write(line + "\n")
    except OSError as error:
        raise OutputError(f"cannot write the journal {journal}: {error.strerror or error}") from None
