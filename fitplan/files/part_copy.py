"""A part of the catalogue as a part file of one's own: its text, with what each key means, to be changed."""

from __future__ import annotations

import re
from textwrap import wrap

from fitplan.errors import FitplanError, Mistake, nearest_name
from fitplan.files.catalogue import catalogue_folder
from fitplan.files.document import read_document
from fitplan.files.leads_form import WIRED_ENDING
from fitplan.files.part_entries import PartEntry
from fitplan.files.part_file import ids_in
from fitplan.files.pinned_form import ENDING

_WIDE = 108
_KEY = re.compile(r"    ([a-z][a-z ]*):")
_HEAD = """\
# Copied from the catalogue to be changed. Lay this file into a folder `parts` beside your train file. As long
# as it keeps its id it takes the place of the catalogue's part; with an id of your own it is one more part.
# Measure yours, and put in what you find. Each part has a frame of its own: x along its longest side by
# habit, y to the left, z up, in mm.
"""


def part_copy(part_id: str) -> str:
    """Return a part file with one part of the catalogue, commented, as YAML.

    Its text is that of the catalogue, comments included; above each key stands what the key means. A form
    with pin rows is made from the bare board: the file holds that, and makes both.

    Raises
    ------
    FitplanError
        There is no such part; the message names the nearest.
    """
    known: list[str] = []
    mistakes: list[Mistake] = []
    for path in sorted(catalogue_folder().glob("*.yaml")):
        document = read_document(path, mistakes)
        ids = ids_in(document) if document is not None else []
        known += ids
        if part_id in ids:
            return _cut_out(path.read_text(encoding="utf-8"), part_id)
    hint = nearest_name(part_id, known)
    raise FitplanError(f"no part {part_id!r} in the catalogue{': ' + hint if hint else ''}")


def _cut_out(text: str, part_id: str) -> str:
    """Return the text of one part, with its file's family and with comments above its keys."""
    lines = text.splitlines()
    family = next(line for line in lines if line.startswith("family:"))
    names = (part_id, part_id.removesuffix(ENDING), part_id.removesuffix(WIRED_ENDING))
    own = re.compile(rf"  - id: ({'|'.join(re.escape(name) for name in names)})\s*(#.*)?")
    first = next(i for i, line in enumerate(lines) if own.fullmatch(line))
    last = next(
        (i for i, line in enumerate(lines[first + 1 :], first + 1) if re.match(r"  - |\S", line)), len(lines)
    )
    found = [_HEAD, family, "parts:", "", lines[first]]
    for line in "\n".join(lines[first + 1 : last]).rstrip().splitlines():
        key = _KEY.match(line)
        if key is not None:
            found += [f"    # {piece}" for piece in wrap(_meaning(key[1]), _WIDE)]
        found.append(line)
    return "\n".join(found) + "\n"


def _meaning(key: str) -> str:
    """Return what a key of a part means, as the reference says it."""
    field = PartEntry.model_fields.get(key.replace(" ", "_"))
    return (field.description or "") if field is not None else ""
