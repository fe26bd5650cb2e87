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
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from numbers import Integral
from typing import Any, Literal, Union

TAG = "is"
"""Key under which the class of an object stands where several are possible."""
_NUMBERS_AS_TEXT = {"inf": math.inf, "-inf": -math.inf, "nan": math.nan}


class Damaged(ValueError):  # noqa: N818 - caught at once where a file is read
    """A value that is not what its type hint says: where, and what was found and expected."""

    def __init__(self, way: str, found: str, expected: str) -> None:
        super().__init__(f"at {way.lstrip('.') or 'the top'}: found {found}; expected {expected}")


@cache
def hints_of(cls: Any) -> dict[str, Any]:
    """Return the type hint of each field of a dataclass, in declared order."""
    hints = typing.get_type_hints(cls)
    return {field.name: hints[field.name] for field in dataclasses.fields(cls)}


def tag_of(cls: type) -> str:
    """Return the name under which a class stands in files: ``motor driver`` for ``MotorDriver``."""
    return "".join(f" {c.lower()}" if c.isupper() and i else c.lower() for i, c in enumerate(cls.__name__))


def _members(hint: Any) -> tuple[Any, ...]:
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
    members = [member for member in _members(hint) if member is not type(None)]
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
        members = _members(hint)
        if type(None) in members:
            if data is None:
                return None
            members = tuple(member for member in members if member is not type(None))
        classes = [member for member in members if dataclasses.is_dataclass(member)]
        if len(classes) > 1:
            return self._decode_tagged(classes, data, way)
        if classes:
            return self._decode_object(classes[0], data, way)
        if len(members) > 1:
            return self._decode_mixed(members, data, way)
        return self._decode_one(members[0], data, way)

    def _decode_mixed(self, members: tuple[Any, ...], data: Any, way: str) -> Any:
        if str in members and isinstance(data, str):
            return data
        if isinstance(data, bool) or not isinstance(data, int | float):
            raise Damaged(way, _kind(data), "a text or a number")
        return data

    def _decode_one(self, hint: Any, data: Any, way: str) -> Any:
        origin, arguments = typing.get_origin(hint), typing.get_args(hint)
        if origin is Literal:
            if not isinstance(data, str) or data not in arguments:
                raise Damaged(
                    way, repr(data) if isinstance(data, str) else _kind(data), f"one of {arguments}"
                )
            return data
        if origin in (tuple, frozenset):
            if not isinstance(data, list):
                raise Damaged(way, _kind(data), "a list")
            if origin is frozenset or arguments[1:] == (Ellipsis,):
                items = [self.decode(arguments[0], item, f"{way}[{i}]") for i, item in enumerate(data)]
                return origin(items)
            if len(data) != len(arguments):
                raise Damaged(way, f"a list of {len(data)}", f"a list of {len(arguments)}")
            return tuple(
                self.decode(argument, item, f"{way}[{i}]")
                for i, (argument, item) in enumerate(zip(arguments, data, strict=True))
            )
        if origin is dict:
            if not isinstance(data, dict):
                raise Damaged(way, _kind(data), "an object")
            return {key: self.decode(arguments[1], item, f"{way}.{key}") for key, item in data.items()}
        return _SCALARS[hint](data, way)

    def _decode_tagged(self, classes: list[Any], data: Any, way: str) -> Any:
        if not isinstance(data, dict):
            raise Damaged(way, _kind(data), "an object")
        by_tag = {tag_of(cls): cls for cls in classes}
        tag = data.get(TAG)
        if not isinstance(tag, str) or tag not in by_tag:
            raise Damaged(f"{way}.{TAG}", repr(tag), f"one of {tuple(by_tag)}")
        return self._decode_object(by_tag[tag], {key: item for key, item in data.items() if key != TAG}, way)

    def _decode_object(self, cls: Any, data: Any, way: str) -> Any:
        if cls in self._worded:
            if not isinstance(data, str) or data not in self._worded[cls]:
                found = repr(data) if isinstance(data, str) else _kind(data)
                raise Damaged(way, found, f"the name of a {tag_of(cls)}")
            return self._worded[cls][data]
        if cls in self._shared:
            if not isinstance(data, str) or data not in self.tables[cls]:
                found = repr(data) if isinstance(data, str) else _kind(data)
                raise Damaged(way, found, f"the name of a {tag_of(cls)} of the plan")
            return self.tables[cls][data]
        return self.decode_fields(cls, data, way)

    def decode_fields(self, cls: Any, data: Any, way: str = "") -> Any:
        """Return a dataclass value from its object, also when its class is shared.

        Raises
        ------
        Damaged
            When it is no object, or a field is missing, unknown or not what its type hint says.
        """
        if not isinstance(data, dict):
            raise Damaged(way, _kind(data), "an object")
        hints = hints_of(cls)
        for name in data:
            if name not in hints:
                raise Damaged(f"{way}.{name}".lstrip("."), "an unknown key", f"keys of a {tag_of(cls)}")
        for name in hints:
            if name not in data:
                raise Damaged(way, f"no key {name!r}", f"the key {name!r} of a {tag_of(cls)}")
        values = {
            name: self.decode(hint, data[name], f"{way}.{name}".lstrip(".")) for name, hint in hints.items()
        }
        try:
            return cls(**values)
        except ValueError as error:
            raise Damaged(
                way, f"a {tag_of(cls)} that cannot be ({error})", "values that go together"
            ) from None


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
    return next(name for name, same in _NUMBERS_AS_TEXT.items() if repr(same) == repr(number))


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


def _text(data: Any, way: str) -> str:
    if not isinstance(data, str):
        raise Damaged(way, _kind(data), "a text")
    return data


def _truth(data: Any, way: str) -> bool:
    if not isinstance(data, bool):
        raise Damaged(way, _kind(data), "true or false")
    return data


def _whole(data: Any, way: str) -> int:
    if isinstance(data, bool) or not isinstance(data, int):
        raise Damaged(way, _kind(data), "a whole number")
    return data


def _float(data: Any, way: str) -> float:
    if isinstance(data, str) and data in _NUMBERS_AS_TEXT:
        return _NUMBERS_AS_TEXT[data]
    if isinstance(data, bool) or not isinstance(data, int | float):
        raise Damaged(way, _kind(data), "a number")
    try:
        return float(data)
    except OverflowError:
        raise Damaged(way, "a number beyond all bounds", "a number") from None


_SCALARS: dict[Any, Callable[[Any, str], Any]] = {str: _text, bool: _truth, int: _whole, float: _float}


# --- schema ------------------------------------------------------------------------------------------------


@dataclass
class SchemaMaker:
    """Makes the JSON Schema of what a `Codec` with the same arguments writes."""

    shared: Mapping[type, str]
    worded: Mapping[type, Mapping[str, Any]]
    definitions: dict[str, Any] = field(default_factory=dict)
    """Schemas of the dataclasses that were met, by name."""

    def of(self, hint: Any) -> dict[str, Any]:
        """Return the schema of a type hint."""
        members = _members(hint)
        tagged = sum(dataclasses.is_dataclass(member) for member in members) > 1
        options = [self._of_member(member, tagged) for member in members]
        return options[0] if len(options) == 1 else {"anyOf": options}

    def _of_member(self, hint: Any, tagged: bool) -> dict[str, Any]:
        origin, arguments = typing.get_origin(hint), typing.get_args(hint)
        if hint is type(None):
            return {"type": "null"}
        if hint in self.worded:
            return {"enum": list(self.worded[hint])}
        if hint in self.shared:
            return {"type": "string", "description": f"name of a {tag_of(hint)} in its table"}
        if dataclasses.is_dataclass(hint):
            assert isinstance(hint, type)
            return {"$ref": f"#/$defs/{self.define(hint, tagged)}"}
        if origin is Literal:
            return {"enum": list(arguments)}
        if origin is frozenset or (origin is tuple and arguments[1:] == (Ellipsis,)):
            return {"type": "array", "items": self.of(arguments[0])}
        if origin is tuple:
            items = [self.of(argument) for argument in arguments]
            return {"type": "array", "prefixItems": items, "minItems": len(items), "maxItems": len(items)}
        if origin is dict:
            return {"type": "object", "additionalProperties": self.of(arguments[1])}
        if hint is float:
            return {"anyOf": [{"type": "number"}, {"enum": list(_NUMBERS_AS_TEXT)}]}
        return {"type": {str: "string", bool: "boolean", int: "integer"}[hint]}

    def define(self, cls: type, tagged: bool = False) -> str:
        """Add the schema of a dataclass to the definitions and return its name there."""
        name = f"Tagged{cls.__name__}" if tagged else cls.__name__
        if name in self.definitions:
            return name
        self.definitions[name] = {}
        properties: dict[str, Any] = {TAG: {"const": tag_of(cls)}} if tagged else {}
        properties |= {key: self.of(hint) for key, hint in hints_of(cls).items()}
        self.definitions[name] = {
            "type": "object",
            "description": (cls.__doc__ or "").strip().split("\n")[0],
            "properties": properties,
            "required": list(properties),
            "additionalProperties": False,
        }
        return name
