"""The error family.

::

    FitplanError
    ├── InputError          something in a user's files is wrong; carries every Mistake found
    ├── PlanFormatError     a written plan cannot be read (version, damage)
    └── OutputError         a result cannot be written where it was asked for

    ContradictionError      fitplan contradicts itself: nothing that a user did, and nothing is written

A train that does not fit, or a wire that does not reach, is a result and never an exception.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


class FitplanError(Exception):
    """Base of all errors that a user can cause and mend."""


@dataclass(frozen=True, order=True)
class Mistake:
    """One thing that is wrong in a user's file.

    Attributes
    ----------
    path
        The file; ``line`` and ``column`` count from 1, 0 when unknown.
    found, expected
        What stands there, and what may stand there, as short phrases.
    hint
        The nearest known name or what to do; empty when there is none.
    """

    path: Path
    line: int
    column: int
    found: str
    expected: str
    hint: str = ""

    def __str__(self) -> str:
        """Return the mistake as one line: ``file:line:column: found …; expected …``."""
        place = f"{self.path}:{self.line}:{self.column}" if self.line else str(self.path)
        text = f"{place}: found {self.found}; expected {self.expected}"
        return f"{text} ({self.hint})" if self.hint else text


class ContradictionError(Exception):
    """Two parts of fitplan contradict each other, and neither can be believed."""


class InputError(FitplanError):
    """A user's files hold mistakes; all of them are in ``mistakes``, in file order."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(sorted(mistakes))
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))


class PlanFormatError(FitplanError):
    """A plan file cannot be read: not JSON, not a plan, or of an unknown version."""


class OutputError(FitplanError):
    """A result cannot be written where it was asked for."""


def nearest_name(name: str, known: Iterable[str]) -> str:
    """Return ``did you mean 'X'?`` for the most similar known name, or an empty string."""
    close = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.6)
    return f"did you mean {close[0]!r}?" if close else ""
