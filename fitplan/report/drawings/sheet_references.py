"""Which printed sheet shows which part and which wire, so that page and sheets refer to one another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fitplan.report.drawings.drawing import Drawing, Group, Shape


@dataclass(frozen=True)
class SheetReference:
    """One printed sheet: its number from 1, its title, and the keys of what is drawn on it, in order."""

    number: int
    title: str
    keys: tuple[str, ...]


def sheet_references(pages: Sequence[Drawing]) -> tuple[SheetReference, ...]:
    """Return a reference for each sheet, by what its drawings name; rows of lists do not count."""
    return tuple(
        SheetReference(number, page.title, tuple(dict.fromkeys(_keys(page.shapes))))
        for number, page in enumerate(pages, 1)
    )


def sheets_of(references: Iterable[SheetReference]) -> dict[str, tuple[int, ...]]:
    """Return for each key the numbers of the sheets that it is drawn on."""
    found: dict[str, tuple[int, ...]] = {}
    for reference in references:
        for key in reference.keys:
            found[key] = (*found.get(key, ()), reference.number)
    return found


def _keys(shapes: Sequence[Shape]) -> Iterable[str]:
    for shape in shapes:
        if isinstance(shape, Group):
            if shape.key.startswith(("part-", "wire-", "splice-")):
                yield shape.key
            yield from _keys(shape.shapes)
