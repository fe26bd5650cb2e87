"""Sets of picks by name, and those of which something is known: that they cannot be together, or may not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.choice_bound import Pick

Key: TypeAlias = tuple[str, str, str]
"""A pick by need, part and vehicle."""
Keys: TypeAlias = frozenset[Key]


def keys_of(picks: Sequence[Pick]) -> Keys:
    """Return the keys of picks; what is left out has none."""
    return frozenset(pick.key for pick in picks if pick.part is not None)


def keys_in(vehicle: str, wanted: Sequence[Wanted]) -> Keys:
    """Return the keys of parts in a vehicle."""
    return frozenset((entry.need.name, entry.part.id, vehicle) for entry in wanted)


def learn(known: dict[Key, list[Keys]], keys: Keys) -> None:
    """Add a set to those that are known, at each of its keys."""
    for key in keys:
        known.setdefault(key, []).append(keys)


def holds_one(known: Mapping[Key, Sequence[Keys]], key: Key, have: Keys) -> bool:
    """Return whether a known set that holds one key is among those that are there."""
    return key in known and any(keys <= have for keys in known[key])


def holds_any(known: Mapping[Key, Sequence[Keys]], have: Keys) -> bool:
    """Return whether any known set is among the keys that are there."""
    return any(holds_one(known, key, have) for key in have)
