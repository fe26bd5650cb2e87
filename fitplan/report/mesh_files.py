"""Every mesh of a plan by name: the train for the eye, and what can be printed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress

from fitplan.errors import FitplanError
from fitplan.meshes.mesh_out import dummy_stl, plan_glb, shelf_stl
from fitplan.model.plan import Plan


def mesh_files(plan: Plan) -> Iterator[tuple[str, bytes, str]]:
    """Give the train as a mesh, and what can be printed: blocks to try the parts with, and shelves."""
    yield "meshes/train.glb", plan_glb(plan), "the train with its parts and wires, as GLB"
    parts = {placement.part.id: placement.part for placement in plan.built.placements}
    for order, part in enumerate(parts.values(), 1):
        with suppress(FitplanError):  # a part too thin to print has no block
            for place, content in enumerate(dummy_stl(part).values()):
                what = "to try the fit with" if place == 0 else "the room that it needs beside itself"
                ending = ".stl" if place == 0 else "-clearance.stl"
                yield (
                    f"meshes/part-{order}-{_file_word(part.id)}{ending}",
                    content,
                    f"{part.name}: {what}, as STL",
                )
    for number, placement in enumerate(plan.built.placements, 1):
        if placement.shelf is not None:
            with suppress(FitplanError):
                content = shelf_stl(placement.shelf.boxes)
                what = f"what carries {placement.need} ({placement.shelf.words}), as STL"
                yield f"meshes/shelf-{number}.stl", content, what


def _file_word(text: str) -> str:
    """Return a text as part of a file name: small Latin letters, digits and hyphens only."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")[:60] or "unnamed"
