"""The JSON Schema of what a codec writes, from the same type hints."""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from fitplan.files.codec import NUMBERS_AS_TEXT, TAG, hints_of, members_of, tag_of


@dataclass
class SchemaMaker:
    """Makes the JSON Schema of what a `Codec` with the same arguments writes."""

    shared: Mapping[type, str]
    worded: Mapping[type, Mapping[str, Any]]
    definitions: dict[str, Any] = field(default_factory=dict)
    """Schemas of the dataclasses that were met, by name."""

    def of(self, hint: Any) -> dict[str, Any]:
        """Return the schema of a type hint."""
        members = members_of(hint)
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
            return {"anyOf": [{"type": "number"}, {"enum": list(NUMBERS_AS_TEXT)}]}
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
