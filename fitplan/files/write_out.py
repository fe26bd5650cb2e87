"""The usual nets written into a train file, to be changed there: the rest of the file stays as it is."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fitplan.errors import FitplanError
from fitplan.files.document import Block, Row, Text
from fitplan.model.nets import Net, PinRef

_USUAL = re.compile(r"^usual nets:\s*(yes|no)\s*(#.*)?$")
_NETS = re.compile(r"^nets:\s*(#.*)?$")


def written_out(text: str, nets: Sequence[Net], own: Row) -> str:
    """Return a train file's text with its derived nets in it and without `usual nets`.

    Parameters
    ----------
    nets
        All nets of the train, those that are written first.
    own
        Those that stand in the file, with their spots. Pins that join one of them are added to it.

    Raises
    ------
    FitplanError
        The file does not ask for usual nets, or its nets stand in one line.
    """
    lines = text.splitlines()
    usual = next((i for i, line in enumerate(lines) if _USUAL.match(line)), None)
    if usual is None:
        raise FitplanError("nothing to write out: the train file does not say `usual nets: yes`")
    rows = [f"  - {_row(net)}" for net in nets[len(own) :]]
    block = next((i for i, line in enumerate(lines) if _NETS.match(line)), None)
    if block is None and any(line.startswith("nets:") for line in lines):
        raise FitplanError("the nets stand in one line: write each in a line of its own under `nets:` first")
    added = [(net, joined) for net, entry in zip(nets, own, strict=False) if (joined := _joined(entry))]
    for net, joined in sorted(added, key=lambda one: one[1][-1].spot, reverse=True):
        _join_more(lines, joined[-1], net.joins[len(joined) :])
    usual = next(i for i, line in enumerate(lines) if _USUAL.match(line))
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


def _joined(net: object) -> list[Text]:
    """Return the ends of a net as they stand in the file."""
    joins = net.get("joins") if isinstance(net, Block) else None
    return [text for text in joins if isinstance(text, Text)] if isinstance(joins, Row) else []


def _join_more(lines: list[str], last: Text, more: Sequence[PinRef]) -> None:
    """Add ends to a list behind its last one: in its line, or in lines like its own."""
    if not more:
        return
    at, start = last.spot.line - 1, last.spot.column - 1
    before, line = lines[at][:start], lines[at]
    refs = [f"{ref.owner}.{ref.pin}" for ref in more]
    if set(before) <= set(" -") and "-" in before:
        lines[at + 1 : at + 1] = [f"{before[: before.rindex('-')].replace('-', ' ')}- {ref}" for ref in refs]
        return
    end = line.index(line[start], start + 1) + 1 if last.quoted else start + len(last)
    lines[at] = f"{line[:end]}, {', '.join(refs)}{line[end:]}"


def _row(net: Net) -> str:
    joins = ", ".join(f"{ref.owner}.{ref.pin}" for ref in net.joins)
    lead = f", lead: {net.lead}" if net.lead else ""
    return f"{{name: {net.name}, role: {net.role}{lead}, joins: [{joins}]}}"
