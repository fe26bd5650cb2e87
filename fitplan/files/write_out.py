"""The usual nets written into a train file, to be changed there: the rest of the file stays as it is."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fitplan.errors import FitplanError
from fitplan.model.nets import Net

_USUAL = re.compile(r"^usual nets:\s*(yes|no)\s*(#.*)?$")
_NETS = re.compile(r"^nets:\s*(#.*)?$")


def written_out(text: str, nets: Iterable[Net], written: int) -> str:
    """Return a train file's text with its derived nets in it and without `usual nets`.

    Parameters
    ----------
    nets
        All nets of the train, those that are written first.
    written
        How many stand in the file already.

    Raises
    ------
    FitplanError
        The file does not ask for usual nets, or its nets stand in one line.
    """
    lines = text.splitlines()
    usual = next((i for i, line in enumerate(lines) if _USUAL.match(line)), None)
    if usual is None:
        raise FitplanError("nothing to write out: the train file does not say `usual nets: yes`")
    rows = [f"  - {_row(net)}" for number, net in enumerate(nets) if number >= written]
    block = next((i for i, line in enumerate(lines) if _NETS.match(line)), None)
    if block is None and any(line.startswith("nets:") for line in lines):
        raise FitplanError("the nets stand in one line: write each in a line of its own under `nets:` first")
    if block is None:
        lines[usual : usual + 1] = ["nets:", *rows]
    else:
        del lines[usual]
        at = next(i for i, line in enumerate(lines) if _NETS.match(line))
        end = at + 1
        while end < len(lines) and (not lines[end].strip() or lines[end][0] in " #-"):
            end += 1
        while not lines[end - 1].strip():
            end -= 1
        lines[end:end] = rows
    return "\n".join(lines) + "\n"


def _row(net: Net) -> str:
    joins = ", ".join(f"{ref.owner}.{ref.pin}" for ref in net.joins)
    lead = f", lead: {net.lead}" if net.lead else ""
    return f"{{name: {net.name}, role: {net.role}{lead}, joins: [{joins}]}}"
