"""Every problem and note that a test of this room brings about tells its figure in its own sentence.

A figure is a number of the sentence or the difference of two, to the digits that are written there; what is
a count, a moment or a quotient of them stands in `_ANOTHER`, and is held by tests of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import combinations
from typing import Any

import pytest

from fitplan.verify.result import Tally

_NUMBER = re.compile(r"(?<![\w.])(-?\d+(?:\.(\d+))?(?:e([-+]\d+))?)")
_NAMES = re.compile(r"\d+ × \d+(?! ×)|hole \d+|AWG -?\d+")
_ANOTHER = (
    "at 1 N each",  # a moment, or newtons of several studs
    "of what keeps it from tipping",  # the share the other way round
    "tape are too little",  # grams too many
    "sections of its wires",  # mm² too many
    "no bundle is that dense",  # a share
    "more rows are not",  # counted with those that are shown
    "in no stretch through it",  # counted
    "finding asks for",  # counted
    "may switch itself off",  # milliamperes too few
)


def _told(message: str, figure: float) -> bool:
    """Return whether a sentence tells a figure; one that has no number in it may keep it to itself."""
    said = _NUMBER.findall(_NAMES.sub("", message))
    if figure == 0.0 or not said or any(kind in message for kind in _ANOTHER):
        return True
    known = [(float(one), 0.51 * 10.0 ** (int(power or 0) - len(digits))) for one, digits, power in said]
    if any(abs(abs(figure) - abs(number)) <= off + 1e-3 for number, off in known):
        return True
    return any(abs(abs(figure) - abs(a - b)) <= p + q + 1e-3 for (a, p), (b, q) in combinations(known, 2))


@pytest.fixture(autouse=True)
def _figures_are_told(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    lies: list[tuple[str, float]] = []

    def told(write: Callable[..., None]) -> Callable[..., None]:
        def as_well(
            self: Tally, subject: str, where: str, message: str, figure: float = 0.0, unit: str = ""
        ) -> None:
            if not _told(message, round(float(figure), 4)):
                lies.append((message, figure))
            write(self, subject, where, message, figure, unit)

        return as_well

    names: tuple[Any, ...] = ("problem", "note")
    for name in names:
        monkeypatch.setattr(Tally, name, told(getattr(Tally, name)))
    yield
    assert lies == []
