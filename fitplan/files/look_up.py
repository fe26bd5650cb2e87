"""Looking up what a train file refers to, with the nearest known name for what is not there."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from fitplan.errors import nearest_name
from fitplan.files.document import Text
from fitplan.files.entries import Collector, check_once
from fitplan.files.fields import one_of_phrase
from fitplan.files.need_entries import NeedEntry
from fitplan.model.electrical import OwnLeads
from fitplan.model.part import Part
from fitplan.model.vehicle import Vehicle


@dataclass
class Reading:
    """What is known while a train file is read.

    ``vehicles`` holds None for one whose file has mistakes: what refers into it is then not checked. ``only``
    holds for some needs the ids to choose from, of those that the file allows.
    """

    collector: Collector
    catalogue: Mapping[str, Part]
    declared: frozenset[str]
    vehicles: dict[str, Vehicle | None] = field(default_factory=dict)
    only: Mapping[str, Collection[str]] = field(default_factory=dict)


def vehicle_named(name: Text, reading: Reading) -> Vehicle | None:
    """Return a vehicle; None when there is none, which is reported, or when its file has mistakes."""
    if name not in reading.vehicles:
        if reading.vehicles:
            tell_unknown("vehicle", name, reading.vehicles, reading)
        return None
    return reading.vehicles[name]


def tell_unknown(
    kind: str, name: Text, known: Mapping[str, object] | list[str], reading: Reading, *, of: str = ""
) -> None:
    """Report a name that is not known, unless it belongs to a block with a mistake of its own.

    Parameters
    ----------
    of
        What has the known ones.
    """
    if name in reading.collector.broken:
        return
    names = [str(item) for item in known]
    one = f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"
    has = f"{one} of {of}" if of else one
    none = f"{of} has none" if of else "there is none"
    expected = f"{has}: {one_of_phrase(names)}" if names else f"{one}, but {none}"
    reading.collector.add(name.spot, f"the unknown {kind} {str(name)!r}", expected, nearest_name(name, names))


def part_named(name: Text, reading: Reading) -> Part | None:
    """Return a part of the catalogue; None when there is none, which is reported."""
    part = reading.catalogue.get(str(name))
    if part is None and name not in reading.declared:
        hint = part_hint(name, reading.catalogue)
        reading.collector.add(name.spot, f"the unknown part {str(name)!r}", "a part of the catalogue", hint)
    return part


def part_hint(name: str, catalogue: Mapping[str, Part]) -> str:
    """Return which part may be meant by a name that none has, or which command lists those like it."""
    if near := nearest_name(name, catalogue):
        return near
    words = {word for id_ in catalogue for word in id_.split("-")}
    word = next((one for one in name.lower().split("-") if one in words), "")
    return f"`fitplan parts {word}` lists those like it" if word else "`fitplan parts` lists them"


def parts_asked(need: NeedEntry, reading: Reading) -> list[Part]:
    """Return the parts that a need names or whose family it names; what they must do is not looked at yet."""
    if need.part is not None:
        part = part_named(need.part, reading)
        return [part] if part is not None else []
    assert need.choose is not None
    families = need.choose.family
    if need.choose.parts is not None:
        check_once(reading.collector, "part", need.choose.parts)
        named = [part_named(name, reading) for name in need.choose.parts]
        parts = [part for part in named if part is not None]
    else:
        # What is sold ready-wired takes no more room than its bare form, and is asked for by name.
        parts = [part for part in reading.catalogue.values() if part.figure(OwnLeads) is None]
    may = reading.only.get(str(need.name))
    return [
        part
        for part in parts
        if (not families or part.family in families) and (may is None or part.id in may)
    ]
