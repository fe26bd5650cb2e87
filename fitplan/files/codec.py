"""Frozen dataclasses to JSON values and back, driven by their type hints alone.

A dataclass is an object with its fields as keys, in declared order. A tuple is a list, a set a sorted list.
Where a type hint names several dataclasses, the object carries the name of its class under ``"is"``. What
JSON cannot say, an infinite number, is a text.
"""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from numbers import Integral
from typing import Any, Literal, TypeAlias, Union

TAG = "is"
"""Key under which the class of an object stands where several are possible."""
NUMBERS_AS_TEXT = {"inf": math.inf, "-inf": -math.inf, "nan": math.nan}
"""Numbers that JSON cannot say, by what is written for them."""


class Damaged(ValueError):  # noqa: N818 - caught at once where a file is read
    """A value that is not what its type hint says: where, and what was found and expected."""

    def __init__(self, way: str, found: str, expected: str) -> None:
        super().__init__(way, found, expected)
        self.way, self.found, self.expected = way, found, expected

    def __str__(self) -> str:
        """Say where, and what."""
        where = self.way.lstrip(".") or "the top"
        return f"at {where}: found {self.found}; expected {self.expected}"

    def below(self, step: str) -> Damaged:
        """Return the same for who reads what this value lies in, a step farther up."""
        return Damaged(step + self.way, self.found, self.expected)


@cache
def hints_of(cls: Any) -> dict[str, Any]:
    """Return the type hint of each field of a dataclass, in declared order."""
    hints = typing.get_type_hints(cls)
    return {field.name: hints[field.name] for field in dataclasses.fields(cls)}


def tag_of(cls: type) -> str:
    """Return the name under which a class stands in files: ``motor driver`` for ``MotorDriver``."""
    return "".join(f" {c.lower()}" if c.isupper() and i else c.lower() for i, c in enumerate(cls.__name__))


def members_of(hint: Any) -> tuple[Any, ...]:
    """Return what a union is of; the hint itself when it is none."""
    if typing.get_origin(hint) in (Union, types.UnionType):
        return typing.get_args(hint)
    return (hint,)


@dataclass(frozen=True)
class _Way:
    """How values with a type hint are written.

    ``inner`` are the hints of what they hold, ``number`` is what a value is made before it is written.
    """

    kind: Literal["object", "list", "row", "set", "dict", "scalar"]
    inner: tuple[Any, ...] = ()
    tagged: bool = False
    number: type | None = None


@cache
def _way_of(hint: Any) -> _Way:
    members = [member for member in members_of(hint) if member is not type(None)]
    classes = [member for member in members if dataclasses.is_dataclass(member)]
    if classes:
        return _Way("object", tagged=len(classes) > 1)
    if len(members) > 1:
        return _Way("scalar")
    origin, arguments = typing.get_origin(members[0]), typing.get_args(members[0])
    if origin is tuple and arguments[1:] == (Ellipsis,):
        return _Way("list", arguments[:1])
    if origin is tuple:
        return _Way("row", arguments)
    if origin is frozenset:
        return _Way("set", arguments)
    if origin is dict:
        return _Way("dict", arguments[1:])
    return _Way("scalar", number=members[0] if members[0] in (float, int, bool) else None)


class Codec:
    """Turns values into JSON values and back.

    Parameters
    ----------
    shared
        Classes whose values are stored once in a table of their own: the attribute that names a value.
        An object of such a class is written as that name.
    worded
        Classes of few values: each value by the word that stands for it.
    """

    def __init__(self, shared: Mapping[type, str], worded: Mapping[type, Mapping[str, Any]]) -> None:
        self._shared = dict(shared)
        self._worded = {cls: dict(words) for cls, words in worded.items()}
        self.tables: dict[type, dict[str, Any]] = {cls: {} for cls in shared}
        """Values of the shared classes by name: filled while encoding, looked up while decoding."""

    # --- to JSON -------------------------------------------------------------------------------------------

    def encode(self, hint: Any, value: Any) -> Any:
        """Return the JSON value of a value with this type hint."""
        if value is None:
            return None
        way = _way_of(hint)
        if way.kind == "object":
            return self._encode_object(value, tagged=way.tagged)
        if way.kind == "list":
            return [self.encode(way.inner[0], item) for item in value]
        if way.kind == "row":
            return [self.encode(inner, item) for inner, item in zip(way.inner, value, strict=True)]
        if way.kind == "set":
            return sorted(self.encode(way.inner[0], item) for item in value)
        if way.kind == "dict":
            return {str(key): self.encode(way.inner[0], item) for key, item in sorted(value.items())}
        return _scalar(way.number(value) if way.number is not None else value)

    def _encode_object(self, value: Any, tagged: bool) -> Any:
        cls = type(value)
        if cls in self._worded:
            return next(word for word, same in self._worded[cls].items() if same == value)
        name_field = self._shared.get(cls)
        if name_field is None:
            return self.encode_fields(value, tagged)
        table = self.tables[cls]
        name = str(getattr(value, name_field))
        number = 1
        while name in table and table[name] != value:
            number += 1
            name = f"{getattr(value, name_field)} ({number})"
        table.setdefault(name, value)
        return name

    def encode_fields(self, value: Any, tagged: bool = False) -> dict[str, Any]:
        """Return a dataclass value as an object, also when its class is shared."""
        cls: Any = type(value)
        fields = {name: self.encode(hint, getattr(value, name)) for name, hint in hints_of(cls).items()}
        return {TAG: tag_of(cls), **fields} if tagged else fields

    # --- from JSON -----------------------------------------------------------------------------------------

    def decode(self, hint: Any, data: Any, way: str = "") -> Any:
        """Return the value that a JSON value stands for.

        Raises
        ------
        Damaged
            When it is not what the type hint says.
        """
        try:
            return _reading(hint)(self, data)
        except Damaged as damage:
            raise damage.below(way) from None

    def decode_fields(self, cls: Any, data: Any, way: str = "") -> Any:
        """Return a dataclass value from its object, also when its class is shared.

        Raises
        ------
        Damaged
            When it is no object, or a field is missing, unknown or not what its type hint says.
        """
        try:
            return self.fields_of(cls, data)
        except Damaged as damage:
            raise damage.below(way) from None

    def fields_of(self, cls: Any, data: Any) -> Any:
        """Return what `decode_fields` does, told from here on."""
        if not isinstance(data, dict):
            raise Damaged("", _kind(data), "an object")
        readings = _readings(cls)
        if data.keys() != readings.keys():
            for name in data:
                if name not in readings:
                    raise Damaged(f".{name}", "an unknown key", f"keys of a {tag_of(cls)}")
            lost = next(name for name in readings if name not in data)
            raise Damaged("", f"no key {lost!r}", f"the key {lost!r} of a {tag_of(cls)}")
        values = {}
        name = ""
        try:
            for name, reading in readings.items():
                values[name] = reading(self, data[name])
        except Damaged as damage:
            raise damage.below(f".{name}") from None
        try:
            return cls(**values)
        except ValueError as error:
            found = f"a {tag_of(cls)} that cannot be ({error})"
            raise Damaged("", found, "values that go together") from None

    def object_of(self, cls: Any, data: Any) -> Any:
        """Return a dataclass value from its object, or from what stands for it."""
        if cls in self._worded:
            if not isinstance(data, str) or data not in self._worded[cls]:
                found = repr(data) if isinstance(data, str) else _kind(data)
                raise Damaged("", found, f"the name of a {tag_of(cls)}")
            return self._worded[cls][data]
        if cls in self._shared:
            if not isinstance(data, str) or data not in self.tables[cls]:
                found = repr(data) if isinstance(data, str) else _kind(data)
                raise Damaged("", found, f"the name of a {tag_of(cls)} of the plan")
            return self.tables[cls][data]
        return self.fields_of(cls, data)


_Reading: TypeAlias = Callable[[Codec, Any], Any]
"""Reads a value of one type hint; what is wrong is told from there on, and who called adds where that is."""


@cache
def _readings(cls: Any) -> dict[str, _Reading]:
    return {name: _reading(hint) for name, hint in hints_of(cls).items()}


@cache
def _reading(hint: Any) -> _Reading:
    """Return what reads values with a type hint; it is looked at once, not for each value."""
    members = members_of(hint)
    if type(None) in members:
        there = _reading_of(tuple(member for member in members if member is not type(None)))
        return lambda codec, data: None if data is None else there(codec, data)
    return _reading_of(members)


def _reading_of(members: tuple[Any, ...]) -> _Reading:
    classes: list[Any] = [member for member in members if dataclasses.is_dataclass(member)]
    if len(classes) > 1:
        return partial(_read_tagged, {tag_of(cls): cls for cls in classes})
    if classes:
        return lambda codec, data: codec.object_of(classes[0], data)
    if len(members) > 1:
        return partial(_read_mixed, members)
    hint = members[0]
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is Literal:
        return partial(_read_word, arguments)
    if origin is frozenset or (origin is tuple and arguments[1:] == (Ellipsis,)):
        return partial(_read_list, origin, _reading(arguments[0]))
    if origin is tuple:
        return partial(_read_row, tuple(_reading(argument) for argument in arguments))
    if origin is dict:
        return partial(_read_dict, _reading(arguments[1]))
    scalar = _SCALARS[hint]
    return lambda codec, data: scalar(data)


def _read_tagged(by_tag: dict[str, Any], codec: Codec, data: Any) -> Any:
    if not isinstance(data, dict):
        raise Damaged("", _kind(data), "an object")
    tag = data.get(TAG)
    if not isinstance(tag, str) or tag not in by_tag:
        raise Damaged(f".{TAG}", repr(tag), f"one of {tuple(by_tag)}")
    return codec.object_of(by_tag[tag], {key: item for key, item in data.items() if key != TAG})


def _read_mixed(members: tuple[Any, ...], codec: Codec, data: Any) -> Any:
    if str in members and isinstance(data, str):
        return data
    if isinstance(data, bool) or not isinstance(data, int | float):
        raise Damaged("", _kind(data), "a text or a number")
    return data


def _read_word(words: tuple[str, ...], codec: Codec, data: Any) -> Any:
    if not isinstance(data, str) or data not in words:
        raise Damaged("", repr(data) if isinstance(data, str) else _kind(data), f"one of {words}")
    return data


def _read_list(kind: Callable[[list[Any]], Any], reading: _Reading, codec: Codec, data: Any) -> Any:
    return kind(_read_each([reading] * len(_list(data)), codec, data))


def _read_row(readings: tuple[_Reading, ...], codec: Codec, data: Any) -> Any:
    if len(_list(data)) != len(readings):
        raise Damaged("", f"a list of {len(data)}", f"a list of {len(readings)}")
    return tuple(_read_each(readings, codec, data))


def _read_each(readings: Sequence[_Reading], codec: Codec, data: list[Any]) -> list[Any]:
    found: list[Any] = []
    try:
        for reading, item in zip(readings, data, strict=True):
            found.append(reading(codec, item))
    except Damaged as damage:
        raise damage.below(f"[{len(found)}]") from None
    return found


def _read_dict(reading: _Reading, codec: Codec, data: Any) -> Any:
    if not isinstance(data, dict):
        raise Damaged("", _kind(data), "an object")
    found: dict[str, Any] = {}
    key = ""
    try:
        for key, item in data.items():
            found[key] = reading(codec, item)
    except Damaged as damage:
        raise damage.below(f".{key}") from None
    return found


def _list(data: Any) -> list[Any]:
    if not isinstance(data, list):
        raise Damaged("", _kind(data), "a list")
    return data


def _scalar(value: Any) -> Any:
    if isinstance(value, str):
        return str(value)
    if isinstance(value, bool):
        return value
    if isinstance(value, Integral):
        return int(value)
    number = float(value)
    if math.isfinite(number):
        return (
            number + 0.0
        )  # nothing below nought: sums give -0.0 in some versions of Python and 0.0 in others
    return next(name for name, same in NUMBERS_AS_TEXT.items() if repr(same) == repr(number))


def _kind(data: Any) -> str:
    match data:
        case None:
            return "nothing (null)"
        case bool():
            return f"{data}".lower()
        case str():
            return "a text"
        case int() | float():
            return "a number"
        case list():
            return "a list"
    return "an object"


def _text(data: Any) -> str:
    if not isinstance(data, str):
        raise Damaged("", _kind(data), "a text")
    return data


def _truth(data: Any) -> bool:
    if not isinstance(data, bool):
        raise Damaged("", _kind(data), "true or false")
    return data


def _whole(data: Any) -> int:
    if isinstance(data, bool) or not isinstance(data, int):
        raise Damaged("", _kind(data), "a whole number")
    return data


def _float(data: Any) -> float:
    if isinstance(data, str) and data in NUMBERS_AS_TEXT:
        return NUMBERS_AS_TEXT[data]
    if isinstance(data, bool) or not isinstance(data, int | float):
        raise Damaged("", _kind(data), "a number")
    try:
        return float(data)
    except OverflowError:
        raise Damaged("", "a number beyond all bounds", "a number") from None


_SCALARS: dict[Any, Callable[[Any], Any]] = {str: _text, bool: _truth, int: _whole, float: _float}
