"""Large values whose hash is worked out once: what is known of a vehicle or a part is looked up often."""

from __future__ import annotations

from dataclasses import fields
from typing import Any


class HashedOnce:
    """A frozen dataclass takes its hash from here by ``__hash__ = HashedOnce.hash_of_fields``."""

    def hash_of_fields(self) -> int:
        """Return the hash of all fields, as a dataclass has it."""
        known: int | None = self.__dict__.get("_hash")
        if known is None:
            known = hash(tuple(getattr(self, field.name) for field in fields(self)))  # type: ignore[arg-type]
            self.__dict__["_hash"] = known
        return known

    def __getstate__(self) -> dict[str, Any]:
        """Return what another process gets, where texts have other hashes."""
        return {name: value for name, value in self.__dict__.items() if name != "_hash"}
