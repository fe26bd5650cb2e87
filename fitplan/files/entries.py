"""Blocks of keys as pydantic models that know where they stand, and reading them with all their mistakes."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PlainValidator,
    PrivateAttr,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    model_validator,
)

from fitplan.errors import Mistake
from fitplan.files.document import NOWHERE, Block, Row, Spot, Text, Value, locate, shown
from fitplan.files.fields import InvalidValue, ValueKind, one_of_phrase


@dataclass
class Collector:
    """Where validators put mistakes that must not stop the rest of the tree from being read."""

    path: Path
    mistakes: list[Mistake]
    broken: set[str] = field(default_factory=set)
    """Names of blocks that were left out for their mistakes: a reference to one is no second mistake."""

    def add(self, spot: Spot, found: str, expected: str, hint: str = "") -> None:
        """Add a mistake in the collector's file."""
        self.mistakes.append(Mistake(self.path, spot.line, spot.column, found, expected, hint))


def collector_of(info: ValidationInfo) -> Collector:
    """Return the collector of a validation."""
    assert isinstance(info.context, Collector)
    return info.context


class Entry(BaseModel):
    """A block of keys in a file; knows where it stands.

    Keys are the field names with blanks for underscores. Unknown keys go to the `Collector` of the validation
    context, with the nearest known name, and do not stop the other keys from being read.
    """

    model_config = ConfigDict(
        extra="forbid",
        arbitrary_types_allowed=True,
        alias_generator=lambda name: name.rstrip("_").replace("_", " "),
    )
    SHORT: ClassVar[str] = ""
    """Its short form in words, for those who meant that; empty where it has none."""
    _spot: Spot = PrivateAttr(default_factory=lambda: NOWHERE)
    _is_sound: bool = PrivateAttr(default=True)

    @property
    def spot(self) -> Spot:
        """Where the block stands."""
        return self._spot

    @property
    def is_sound(self) -> bool:
        """False when something in the block was left out for a mistake."""
        return self._is_sound

    def lacking(self, found: str, expected: str, hint: str = "") -> InvalidValue:
        """Return the error for what the block lacks; not told when an unknown key may be meant by it."""
        wrong = InvalidValue(found, expected, hint)
        wrong.is_told = not self._is_sound
        return wrong

    @classmethod
    @cache
    def known_keys(cls) -> tuple[str, ...]:
        """Return the keys that may stand in this block, in declared order."""
        return tuple(str(field.alias) for field in cls.model_fields.values())

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block that a text or a list stands for; None where there is no such short form."""
        return None

    @model_validator(mode="wrap")
    @classmethod
    def _read_block(cls, value: object, handler: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
        if isinstance(value, cls):
            return value
        known = cls.known_keys()
        if isinstance(value, Text | Row) and value:
            value = cls.from_short(value) or value
        if not isinstance(value, Block):
            keys = f"keys and values ({', '.join(known[:6])}{', …' if len(known) > 6 else ''})"
            raise InvalidValue(shown(value), f"{cls.SHORT}, or {keys}" if cls.SHORT else keys)
        items = {key: item for key, item in value.items() if key in known}
        before = len(collector_of(info).mistakes)
        for key in value:
            if key not in known:
                spot = value.key_spots.get(key, value.spot)
                near = nearest_key(key, known)
                hint = _slip(key, value, known) or (f"did you mean {near!r}?" if near else "")
                collector_of(info).add(spot, f"the unknown key {key!r}", one_of_phrase(known), hint)
                if meant := _meant(key, value, known):
                    # Read on as it was meant, so that one slip is told once.
                    items[meant[0]] = Text(meant[1], spot)
                    continue
                begun = "" if near or value[key] != "" else _begun(key, known)
                if begun and begun not in items:
                    items[begun] = Text(key.removeprefix(begun).strip(), spot)
                if near and near not in items:
                    # Read on as if the nearest key stood there: its value is checked, and it is not missed.
                    items[near] = value[key]
                    value.meant[near] = key
        made = handler(items)
        made._spot = value.spot
        made._is_sound = len(collector_of(info).mistakes) == before
        return made


def _before(key: str, block: Block) -> str:
    """Return the key that stands before one in a block; empty for the first."""
    keys = list(block)
    return keys[keys.index(key) - 1] if keys.index(key) else ""


def _meant(key: str, block: Block, known: tuple[str, ...]) -> tuple[str, str] | None:
    """Return key and value that were meant where a decimal comma or a colon without a space made a key."""
    before = _before(key, block)
    number = block.get(before)
    if re.fullmatch(r"\d+", key) and isinstance(number, str) and re.fullmatch(r"[+-]?\d+", number):
        return (before, f"{number}.{key}") if before in known else None
    stuck = re.fullmatch(r"([a-z][a-z ]*):(\S.*)", key)
    return (stuck[1], stuck[2]) if stuck and stuck[1] in known and stuck[1] not in block else None


def _slip(key: str, block: Block, known: tuple[str, ...]) -> str:
    """Return what helps where a key is no key: the rest of a decimal comma or of a list, a lost colon."""
    before = _before(key, block)
    number = block.get(before)
    if re.fullmatch(r"\d+", key) and isinstance(number, str) and re.fullmatch(r"[+-]?\d+", number):
        return f"write {number}.{key} with a point, not with a comma"
    stuck = re.fullmatch(r"([a-z][a-z ]*):(\S.*)", key)
    if stuck:
        return f"put a space after the colon: `{stuck[1]}: {stuck[2]}`"
    if block.get(key) != "" or nearest_key(key, known):
        return ""
    if begun := _begun(key, known):
        return f"put a colon after the key: `{begun}: {key.removeprefix(begun).strip()}`"
    if isinstance(number, str) and number and before in known:
        return f"several values stand in square brackets: `{before}: [{number}, {key}]`"
    return ""


def _begun(key: str, known: tuple[str, ...]) -> str:
    """Return the known key that another begins with, before a blank; empty when there is none."""
    return next((name for name in known if key.startswith(f"{name} ")), "")


def nearest_key(key: str, known: Iterable[str]) -> str:
    """Return the most similar known key, hyphens and underscores read as blanks, or an empty text."""
    close = difflib.get_close_matches(re.sub(r"[_-]", " ", key.lower()), list(known), n=1, cutoff=0.6)
    return close[0] if close else ""


E = TypeVar("E", bound=Entry)


EMPTY = Row()
"""Stands in for a list that is missing or holds nothing but mistakes."""


def many(model: type[Entry], what: str, *, may_be_empty: bool = True) -> Any:
    """Return the annotations of a list of blocks; blocks with mistakes are reported and left out."""

    def read(value: object, info: ValidationInfo) -> list[Entry]:
        if not isinstance(value, Row):
            hint = "put a hyphen before each" if isinstance(value, Block) else ""
            raise InvalidValue(shown(value), f"a list of {what}", hint)
        if not value and not may_be_empty and value is not EMPTY:
            raise InvalidValue("an empty list", f"a list of {what}")
        read_items = (validate(model, item, collector_of(info)) for item in value)
        return [item for item in read_items if item is not None]

    return (PlainValidator(read), ValueKind(f"list of {what}"), ListOf(model))


@dataclass(frozen=True)
class ListOf:
    """The model of the blocks in a list, for the reference tables."""

    model: type[Entry]


def validate(model: type[E], value: Value, collector: Collector) -> E | None:
    """Return the block as a model, or None after all its mistakes went to the collector."""
    try:
        return model.model_validate(value, context=collector)
    except ValidationError as error:
        for item in error.errors(include_url=False):
            cause = item.get("ctx", {}).get("error")
            if not (isinstance(cause, InvalidValue) and cause.is_told):
                collector.mistakes.append(_mistake_of(item, value, collector.path))
        if isinstance(value, Block):
            collector.broken.update(str(value[key]) for key in ("name", "id") if key in value)
        return None


def _mistake_of(item: Any, value: Value, path: Path) -> Mistake:
    way = tuple(item["loc"])
    spot = locate(value, way)
    cause = item.get("ctx", {}).get("error")
    if isinstance(cause, InvalidValue):
        spot = cause.spot or spot
        return Mistake(path, spot.line, spot.column, cause.found, cause.expected, cause.hint)
    if item["type"] == "missing":
        return Mistake(
            path, spot.line, spot.column, f"no key {way[-1]!r}", f"the key {way[-1]!r} in this block"
        )
    return Mistake(path, spot.line, spot.column, shown(item.get("input", "")), str(item["msg"]))


def validate_top(
    model: type[E], document: Block, collector: Collector, stand_ins: Mapping[str, Value]
) -> E | None:
    """Return a whole file as a model although some of its keys may hold mistakes.

    All mistakes go to the collector. Keys with mistakes are then left out, or replaced by a stand-in where
    they must not be missing, so that what hangs together in the rest of the file can be checked too: a caller
    must not use the model for more than that when there were mistakes. None when too much is missing.
    """
    made = validate(model, document, collector)
    if made is not None:
        return made
    rest = Block(document.spot)
    known = {document.meant.get(key, key): key for key in model.known_keys()}
    silent = Collector(collector.path, [])
    for written, key in known.items():
        if written in document:
            part = Block(document.spot)
            part.put(key, document[written], document.key_spots.get(written, document.spot))
            if not _fails_alone(model, part, key, silent):
                rest.put(key, document[written], document.key_spots.get(written, document.spot))
    for key, stand_in in stand_ins.items():
        if key not in rest:
            rest.put(key, stand_in, document.spot)
    return validate(model, rest, silent)


def _fails_alone(model: type[Entry], block: Block, key: str, silent: Collector) -> bool:
    try:
        model.model_validate(block, context=silent)
    except ValidationError as error:
        ways = [(item["loc"], item["type"]) for item in error.errors(include_url=False)]
        return any(way[:1] == (key,) and (kind != "missing" or len(way) > 1) for way, kind in ways)
    return False


def check_once(collector: Collector, kind: str, names: Iterable[Text]) -> None:
    """Report each name that stands a second time."""
    seen: dict[str, Text] = {}
    for name in names:
        if name in seen:
            line = seen[name].spot.line
            collector.add(
                name.spot, f"the {kind} {str(name)!r} again", f"each name once; line {line} has it too"
            )
        else:
            seen[name] = name


def about(text: str, **extra: Any) -> Any:
    """Return a required field with its line in the reference table."""
    return Field(description=text, **extra)
