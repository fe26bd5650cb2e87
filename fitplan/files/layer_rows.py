"""The rows of a layer drawing as they are meant: repeated, mirrored, or as a layer below but for some."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, PlainValidator

from fitplan.errors import nearest_name
from fitplan.files.document import Block, Row, Spot, Text, shown
from fitplan.files.entries import Collector, Entry, about
from fitplan.files.fields import InvalidValue, Name, ValueKind, YesNo, one_of_phrase, whole

_REPEATED = re.compile(r"(?P<row>\S+)\s+[x×]\s*(?P<times>\d{1,3})")
_ROWS = re.compile(r"(?P<first>\d{1,3})(?:\s*-\s*(?P<last>\d{1,3}))?")


@dataclass(frozen=True)
class OtherRows:
    """Rows that are other than below, from the first to the last, counted from 1 at the left side."""

    first: int
    last: int
    row: Text
    spot: Spot


def _read_rows(value: object) -> list[Text]:
    expected = "a text block, one line a row of studs: `rows: |`; or one row and how often: `##..## x6`"
    if isinstance(value, Row) and value and all(isinstance(item, Text) for item in value):
        return [item for item in value if isinstance(item, Text)]
    if not isinstance(value, Text) or not value.strip():
        raise InvalidValue(shown(value), expected)
    if value.inner is None:
        if len(value.strip()) > 1 and _REPEATED.fullmatch(value.strip()) is None:
            raise InvalidValue(shown(value), expected)
        return [Text(value.strip(), value.spot)]
    line, column = value.inner.line, value.inner.column
    rows = value.rstrip().split("\n")
    return [Text(row.rstrip(), Spot(line + i, column)) for i, row in enumerate(rows)]


def _read_other_rows(value: object) -> list[OtherRows]:
    """Return what stands in other rows: a block of row numbers, or first and last, and the row there."""
    expected = "row numbers and rows, such as {2: '#....#', 3-4: '######'}"
    if not isinstance(value, Block) or not value:
        raise InvalidValue(shown(value), expected)
    found: list[OtherRows] = []
    for key, row in value.items():
        spot = value.key_spots.get(key, value.spot)
        numbers = _ROWS.fullmatch(key.strip())
        if numbers is None:
            raise InvalidValue(
                f"the row {key!r}", "a row's number, or the first and last: 3 or 3-5", spot=spot
            )
        if not isinstance(row, Text) or not row.strip():
            raise InvalidValue(shown(row), "a row of the drawing, a character a stud", spot=spot)
        first = int(numbers["first"])
        found.append(OtherRows(first, int(numbers["last"] or first), row, spot))
    return found


class LayerEntry(Entry):
    """One layer drawing: its own rows, or those of a layer below but for some."""

    name: Name = about("for the drawings and for errors")
    plates: Annotated[int, PlainValidator(whole(1, 100)), ValueKind("whole number")] = Field(
        1, description="how many plates it is high"
    )
    rows: Annotated[list[Text], PlainValidator(_read_rows), ValueKind("text block")] | None = Field(
        None,
        description="a character a stud; first row the left side, front to the right; `x3` behind it: thrice;"
        " a character alone: all of it",
    )
    mirrored: YesNo = Field(
        False, description="`rows` end at the middle; the right half is their mirror image"
    )
    like: Name | None = Field(None, description="instead of `rows`: the layer below that it is like")
    but: Annotated[
        list[OtherRows],
        PlainValidator(_read_other_rows),
        ValueKind("row numbers and rows"),
    ] = Field(
        [],
        description="with `like`: what is other: `{2: '#..#', 3-4: '####'}`; row 1 is the left side",
    )
    smooth: YesNo = Field(False, description="its upward faces bear no studs (tiles, panels)")
    halves: YesNo = Field(False, description="`rows` have a character for each half stud, along and across")


def full_rows(
    item: LayerEntry,
    below: Mapping[str, list[Text] | None],
    long: int,
    wide: int,
    collector: Collector,
) -> list[Text] | None:
    """Return every row of a layer, the left side first; None after a mistake, or where one below has one.

    Parameters
    ----------
    below
        The rows of the layers below by name; None for one that holds a mistake.
    long, wide
        Studs along and across the vehicle.
    """
    if lacking := _lacking(item):
        collector.add(item.spot, *lacking)
        return None
    if item.like is not None:
        return _as_below(item, item.like, below, collector)
    if item.halves:
        long, wide = 2 * long, 2 * wide
    rows = [one for row in item.rows or () for one in _repeated(row)]
    if len(rows) == 1 and len(rows[0]) == 1 < long and not item.mirrored:
        return [Text(rows[0] * long, rows[0].spot)] * wide
    if not item.mirrored:
        return rows
    half = (wide + 1) // 2
    if len(rows) != half:
        collector.add(
            rows[0].spot,
            f"{len(rows)} row{'s' if len(rows) > 1 else ''} in the mirrored layer {str(item.name)!r}",
            f"{half} rows, from the left side to the middle",
        )
        return None
    return [*rows, *reversed(rows[: wide // 2])]


def _lacking(item: LayerEntry) -> tuple[str, str] | None:
    """Return what is found and what is expected where a layer says too little or too much."""
    if (item.rows is None) == (item.like is None):
        found = "neither 'rows' nor 'like'" if item.rows is None else "both 'rows' and 'like'"
        return found, "a drawing in 'rows', or a layer below in 'like'"
    if item.mirrored and item.rows is None:
        return "'mirrored' beside 'like'", "'mirrored' beside 'rows' only"
    if item.halves and item.rows is None:
        return "'halves' beside 'like'", "'halves' beside 'rows' only: the layer below says it"
    if item.but and item.like is None:
        return "'but' beside 'rows'", "'but' beside 'like' only"
    return None


def _repeated(row: Text) -> list[Text]:
    """Return a row as often as is written behind it: ``#....# x4``."""
    found = _REPEATED.fullmatch(row)
    return [row] if found is None else [Text(found["row"], row.spot)] * int(found["times"])


def _as_below(
    item: LayerEntry, name: Text, below: Mapping[str, list[Text] | None], collector: Collector
) -> list[Text] | None:
    known = list(below)
    if name not in below:
        expected = f"a layer below it: {one_of_phrase(known)}" if known else "'rows': there is no layer below"
        collector.add(name.spot, f"the unknown layer {str(name)!r}", expected, nearest_name(name, known))
        return None
    rows = below[name]
    if rows is None:
        return None
    rows = list(rows)
    for other in item.but:
        if not 1 <= other.first <= other.last <= len(rows):
            said = f"{other.first}-{other.last}" if other.last != other.first else f"{other.first}"
            expected = f"rows from 1 to {len(rows)}, the left side first"
            collector.add(other.spot, f"the row {said}", expected)
            return None
        rows[other.first - 1 : other.last] = [other.row] * (other.last - other.first + 1)
    return rows
