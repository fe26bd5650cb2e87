"""The train in a plan against the same train read anew from its files.

A plan carries everything that it was made from. Where the files are at hand and unchanged since, what the
plan carries must be what they say; a file that has changed since is told, for then the plan is of a train
that is no more.
"""

from __future__ import annotations

from dataclasses import fields, replace

from fitplan.model.as_built import NOTHING_BUILT
from fitplan.model.holes import closed
from fitplan.model.train import ADDED_WAGON, Train
from fitplan.verify.result import Tally


def check_origin(train: Train, again: Train | None, sheet: Tally) -> None:
    """Compare the train of a plan with the train that its files hold now; None: nobody has read them."""
    if again is None:
        sheet.trust(
            "vehicles, needs, nets and parts", len(train.vehicles) + len(train.needs), "no file was read"
        )
        return
    sheet.count("files compared with the plan", len(again.files))
    now = {source.name: source.digest for source in again.files}
    changed = [source.name for source in train.files if now.get(source.name) != source.digest]
    for name in changed:
        what = "has changed since the plan was made" if name in now else "is no longer read for it"
        sheet.note("files", name, what)
    if changed or set(now) - {source.name for source in train.files}:
        sheet.trust("vehicles, needs, nets and parts", len(train.vehicles), "their files have changed since")
        return
    added = any(entry.name == ADDED_WAGON for entry in train.vehicles)
    mine = train
    if added:
        mine = replace(train, vehicles=tuple(entry for entry in train.vehicles if entry.name != ADDED_WAGON))
    # Holes are the plan's own: without them bodies are as the files have them.
    shut = (replace(entry, vehicle=closed(entry.vehicle)) for entry in mine.vehicles)
    mine = replace(mine, vehicles=tuple(shut))
    for field in fields(Train):
        if field.name in ("catalogue", "files", "source"):
            continue
        if field.name == "as_built" and again.as_built == NOTHING_BUILT:
            if mine.as_built != NOTHING_BUILT:
                sheet.trust("what was built", len(mine.as_built.wires), "it was taken from another plan")
            continue
        sheet.count("what the files say")
        said, there = getattr(mine, field.name), getattr(again, field.name)
        if said != there:
            sheet.problem("files", _where(field.name, said, there), "is not what the unchanged files say")
    for name, part in sorted(train.catalogue.items()):
        sheet.count("what the files say")
        if again.catalogue.get(name) != part:
            sheet.problem("files", name, "is not the part that the unchanged files say")


def _where(name: str, said: object, there: object) -> str:
    if isinstance(said, tuple) and isinstance(there, tuple):
        for one, other in zip(said, there, strict=False):
            if one != other:
                return f"{name}, {getattr(one, 'name', '')}".rstrip(", ")
    return name.replace("_", " ")
