"""Part files: a family and its parts."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import PlainValidator

from fitplan.errors import Mistake
from fitplan.files.document import Block, Row, Spot, Text
from fitplan.files.electrical_entries import figures_of
from fitplan.files.entries import Collector, Entry, about, many, validate
from fitplan.files.families import FAMILIES
from fitplan.files.fields import ValueKind, one_of, one_of_phrase
from fitplan.files.leads_form import WIRED_ENDING, wired_form
from fitplan.files.part_entries import FIGURE_KEYS, PartEntry
from fitplan.files.pinned_form import ENDING, pinned_form
from fitplan.model import electrical as figures
from fitplan.model.part import Part

_NEEDED_FIGURES: dict[str, type] = {
    "controller": figures.Controller, "cells": figures.CellPack, "pouch": figures.CellPack,
    "bank": figures.Bank,
    "regulator": figures.Regulator, "charger": figures.Charger, "ranger": figures.Ranger,
    "emitter": figures.Emitter, "driver": figures.MotorDriver, "switch": figures.Switch,
    "connector": figures.Connector, "wire": figures.Conductor, "lead": figures.Lead, "coil": figures.Coil,
}  # fmt: skip


class PartFile(Entry):
    """A part file."""

    family: Annotated[str, PlainValidator(one_of(FAMILIES)), ValueKind(one_of_phrase(FAMILIES))] = about(
        "the family of all parts in the file"
    )
    parts: Annotated[list[PartEntry], *many(PartEntry, "parts", may_be_empty=False)] = about("the parts")


def parts_of(document: Block, path: Path, mistakes: list[Mistake]) -> dict[str, tuple[Part, Spot]]:
    """Return the parts of a part file by id, with the spot of each; mistakes go to the list."""
    collector = Collector(path, mistakes)
    entry = validate(PartFile, document, collector)
    found: dict[str, tuple[Part, Spot]] = {}
    seen: dict[str, Spot] = {}
    for item in entry.parts if entry is not None else ():
        assert entry is not None
        if item.id in seen:
            line = seen[item.id].line
            found.pop(str(item.id), None)
            collector.add(
                item.id.spot, f"the part {str(item.id)!r} again", f"each id once; line {line} has it too"
            )
            continue
        seen[str(item.id)] = item.id.spot
        if not item.is_sound:
            continue
        needed = _NEEDED_FIGURES.get(entry.family)
        have = [type(block.figures()) for block in item.electrical]
        if needed is not None and needed not in have:
            key = FIGURE_KEYS[needed]
            expected = f"a block {key!r} in its list 'electrical', since the family is {entry.family!r}"
            collector.add(item.spot, f"the part {str(item.id)!r} without figures {key!r}", expected)
        elif item.envelope is None and entry.family != "wire":
            collector.add(
                item.spot, f"the part {str(item.id)!r} without 'envelope'", "the solids that it fills"
            )
        elif entry.family == "lead" and len(item.envelope or ()) < 2:
            expected = "two solids: the bodies at its first and at its second end"
            collector.add(
                item.spot, f"the lead {str(item.id)!r} with {len(item.envelope or ())} solid", expected
            )
        else:
            found[str(item.id)] = (item.part(entry.family), item.id.spot)
            if item.pin_rows is not None:
                _add_pinned(found, str(item.id), item.id.spot, collector)
            if item.wired is not None:
                _add_wired(found, str(item.id), item.wired, collector)
    return found


def _add_wired(found: dict[str, tuple[Part, Spot]], name: str, leads: Entry, collector: Collector) -> None:
    """Add the ready-wired form of a part beside it."""
    part, spot = found[name]
    figures_ = figures_of("own leads", leads)
    assert isinstance(figures_, figures.OwnLeads)
    try:
        form = wired_form(part, figures_)
    except ValueError:
        collector.add(spot, f"the part {name!r} with 'wired'", "pins that take a wire")
        return
    found.setdefault(form.id, (form, spot))


def _add_pinned(found: dict[str, tuple[Part, Spot]], name: str, spot: Spot, collector: Collector) -> None:
    """Add the pinned form of a board beside it."""
    try:
        form = pinned_form(found[name][0])
    except ValueError:
        collector.add(
            spot, f"the part {name!r} with 'pin rows'", "pins that are soldered from above: exit up"
        )
        return
    found.setdefault(form.id, (form, spot))


def ids_in(document: Block) -> list[str]:
    """Return all ids in a part file, also those of parts with mistakes."""
    parts = document.get("parts")
    items = parts if isinstance(parts, Row) else []
    blocks = [item for item in items if isinstance(item, Block) and isinstance(item.get("id"), Text)]
    return [
        str(item["id"]) + ending
        for item in blocks
        for key, ending in (("id", ""), ("pin rows", ENDING), ("wired", WIRED_ENDING))
        if item.get(key)
    ]
