"""What commands print under ``--json``: documents with a name, a version and a schema.

Each document is one object: ``format`` says what it is, ``version`` counts changes of the model, for all
documents alike, and the other keys hold the content, driven by the type hints below.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fitplan.errors import FitplanError, InputError
from fitplan.files.codec import Codec
from fitplan.files.codec_schema import SchemaMaker
from fitplan.files.plan_json import VERSION, plan_schema
from fitplan.meshes.cavities import Cavity
from fitplan.model.found import Outcome
from fitplan.model.meter import MeterTest
from fitplan.model.part import Part
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Pose, poses
from fitplan.model.train import Train
from fitplan.report.comparison import Comparison
from fitplan.verify.result import Checked, Problem, Trusted
from fitplan.workbench.judging import Judged

_WORDED: dict[type, dict[str, Any]] = {Pose: {pose.name: pose for pose in poses()}}


@dataclass(frozen=True)
class FitDocument:
    """Which part goes into which vehicle: what fit and sweep print."""

    verdict: str
    rows: tuple[FitRow, ...]
    stops: tuple[str, ...] = ()
    """What stops the train before anything has a place, the worst first; of `fit` alone."""


@dataclass(frozen=True)
class CheckDocument:
    """What was understood of a train, and what is to be said before anything is placed."""

    train: Train
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True)
class CavitiesDocument:
    """The clear spaces of a vehicle, the largest first."""

    cavities: tuple[Cavity, ...]


@dataclass(frozen=True)
class PartsDocument:
    """Parts of the catalogue."""

    parts: tuple[Part, ...]


@dataclass(frozen=True)
class VerificationDocument:
    """What checking a plan again brought to light, and what the plan says of itself."""

    holds: bool
    works: bool
    verdict: str
    problems: tuple[Problem, ...]
    checked: tuple[Checked, ...]
    trusted: tuple[Trusted, ...]


@dataclass(frozen=True)
class ComparisonDocument:
    """What changed from the first plan to each of the others."""

    comparisons: tuple[Comparison, ...]


@dataclass(frozen=True)
class WrongReading:
    """A reading outside its bounds; ``reading`` None: an open circuit."""

    test: MeterTest
    reading: float | None


@dataclass(frozen=True)
class ReadingsDocument:
    """What meter readings say of a harness: right ones, wrong ones, those not taken, wires to suspect."""

    passed: bool
    right: int
    wrong: tuple[WrongReading, ...]
    missing: tuple[int, ...]
    suspects: tuple[int, ...]

    @classmethod
    def of(cls, judged: Judged) -> ReadingsDocument:
        """Return what was judged as a document."""
        wrong = tuple(
            WrongReading(test, None if math.isinf(value) else value) for test, value in judged.wrong
        )
        missing = tuple(test.number for test in judged.missing)
        return cls(judged.passed, judged.right, wrong, missing, judged.suspects)


@dataclass(frozen=True)
class ErrorEntry:
    """One thing that is wrong.

    Attributes
    ----------
    message
        The whole text, as on a terminal.
    file, line, column
        Where; empty and 0 where it is in no file, or not known.
    found, expected, hint
        What stands there, what may stand there, the nearest known name; empty where there is none.
    """

    message: str
    file: str = ""
    line: int = 0
    column: int = 0
    found: str = ""
    expected: str = ""
    hint: str = ""


@dataclass(frozen=True)
class ErrorsDocument:
    """Why there is no result, with the exit status."""

    status: int
    errors: tuple[ErrorEntry, ...]


DOCUMENTS: dict[str, type] = {
    "fit": FitDocument,
    "check": CheckDocument,
    "cavities": CavitiesDocument,
    "parts": PartsDocument,
    "verification": VerificationDocument,
    "comparison": ComparisonDocument,
    "readings": ReadingsDocument,
    "errors": ErrorsDocument,
}
"""Documents by name, beside the plan's own."""
COMMANDS: dict[str, tuple[str, ...]] = {
    "plan": ("plan",),
    "fit": ("fit", "sweep"),
    "check": ("check",),
    "cavities": ("cavities",),
    "parts": ("parts",),
    "verification": ("verify",),
    "comparison": ("compare",),
    "readings": ("test",),
    "errors": ("every command that has `--json`, where it ends with 2 or 3",),
}
"""Which commands print a document."""


def document(value: Any) -> dict[str, Any]:
    """Return one of the documents as plain JSON values."""
    name = next(name for name, cls in DOCUMENTS.items() if isinstance(value, cls))
    content = Codec({}, _WORDED).encode_fields(value)
    return {"format": f"fitplan-{name}", "version": VERSION, **content}


def schema(name: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a document.

    Raises
    ------
    FitplanError
        When there is no such document.
    """
    if name == "plan":
        return plan_schema()
    if name not in DOCUMENTS:
        raise FitplanError(f"no document {name!r}; there are {', '.join(COMMANDS)}")
    maker = SchemaMaker({}, _WORDED)
    definition = maker.definitions.pop(maker.define(DOCUMENTS[name]))
    properties = {"format": {"const": f"fitplan-{name}"}, "version": {"const": VERSION}}
    properties |= definition["properties"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": definition["description"],
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
        "$defs": dict(sorted(maker.definitions.items())),
    }


def errors_document(error: Exception, status: int, texts: Iterable[str] = ()) -> ErrorsDocument:
    """Return what an error says as a document; ``texts`` stand for an error without words for users."""
    if isinstance(error, InputError):
        entries = [
            ErrorEntry(
                str(mistake),
                mistake.path.as_posix(),
                mistake.line,
                mistake.column,
                mistake.found,
                mistake.expected,
                mistake.hint,
            )
            for mistake in error.mistakes
        ]
    else:
        entries = [ErrorEntry(text) for text in texts or [str(error)]]
    return ErrorsDocument(status, tuple(entries))
