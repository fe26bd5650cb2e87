"""What a plan found, written into its train file as built: places, pins, wires with their ways, splices.

One block, `as built`, is put in or exchanged; not a letter of the rest changes.
"""

from __future__ import annotations

import yaml

from fitplan.errors import FitplanError
from fitplan.files.as_built import KEY, as_built_text
from fitplan.model.as_built import AsBuilt

_ABOUT = (
    "# What is built, as `fitplan freeze` wrote it: a plan keeps it unless something must go.\n"
    "# Take the block out, or a line of it, and the plan is free there.\n"
)


def frozen(text: str, built: AsBuilt) -> str:
    """Return a train file's text with what is built in it.

    Raises
    ------
    FitplanError
        The file is no train file, or lacks a need that is built.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    if not isinstance(root, yaml.MappingNode):
        raise FitplanError("nothing to freeze: this is no train file")
    known = set(_needs(root))
    missing = [one.need for one in built.parts if one.need not in known]
    if missing:
        raise FitplanError(f"the train file has no need {missing[0]!r}: it is not the file of this plan")
    block = as_built_text(built)
    there = next((pair for pair in root.value if pair[0].value == KEY), None)
    if root.flow_style:
        raise FitplanError("nothing to freeze: the whole train file stands in braces; write it in lines")
    if there is None:
        return f"{text.rstrip()}\n\n{_ABOUT}{block}"
    key, value = there
    end = text.find("\n", _last(value))
    return text[: key.start_mark.index] + block + (text[end + 1 :] if end >= 0 else "")


def _needs(root: yaml.MappingNode) -> list[str]:
    found = next((value for key, value in root.value if key.value == "needs"), None)
    rows = found.value if isinstance(found, yaml.SequenceNode) else []
    return [
        str(value.value)
        for row in rows
        if isinstance(row, yaml.MappingNode)
        for key, value in row.value
        if key.value == "name"
    ]


def _last(node: yaml.Node) -> int:
    """Return where a node's own text ends: of a block, where its last value does, before any comment."""
    if isinstance(node, yaml.ScalarNode) or getattr(node, "flow_style", False) or not node.value:
        return int(node.end_mark.index)
    last = node.value[-1]
    return _last(last[1] if isinstance(last, tuple) else last)
