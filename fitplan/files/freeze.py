"""What a plan found, written into its train file as fixed: places, parts, pins. All else stays as it is.

Only the texts of single values are exchanged, or a key is put in, so comments, order and layout are kept.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass

import yaml

from fitplan.errors import FitplanError
from fitplan.files.write_out import written_out
from fitplan.model.plan import Placement, Plan

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 _/-]*")


@dataclass(frozen=True)
class _Edit:
    """A stretch of the text and what stands there afterwards."""

    start: int
    end: int
    text: str


def frozen(text: str, plan: Plan) -> str:
    """Return a train file's text with the places, the chosen parts and the pins of a plan fixed in it.

    Parts without a place stay open. Nets that `usual nets: yes` stands for are written out first.

    Raises
    ------
    FitplanError
        The file is no train file, or lacks a need that the plan has a place for.
    """
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    if not isinstance(root, yaml.MappingNode):
        raise FitplanError("nothing to freeze: this is no train file")
    if _value(root, "usual nets") == "yes":
        text = written_out(text, plan.built.train.nets, len(_entries(root, "nets")))
        return frozen(text, plan)
    edits: list[_Edit] = []
    known: set[str] = set()
    for need in _entries(root, "needs"):
        name = _value(need, "name")
        placement = plan.built.placement(name)
        known.add(name)
        if placement is not None:
            edits += _need_edits(text, need, placement)
    missing = [one.need for one in plan.built.placements if one.need not in known]
    if missing:
        raise FitplanError(f"the train file has no need {missing[0]!r}: it is not the file of this plan")
    pins = {(use.controller, use.net): use.pin for use in plan.built.pin_map if use.net}
    for net in _entries(root, "nets"):
        joins = _node(net, "joins")
        for item in joins.value if isinstance(joins, yaml.SequenceNode) else []:
            owner, _, pin = str(item.value).rpartition(".")
            fixed = pins.get((owner, _value(net, "name")))
            if pin == "*" and fixed is not None:
                said = _quoted(f"{owner}.{fixed}")
                edits.append(_Edit(item.start_mark.index, item.end_mark.index, said))
    for edit in sorted(edits, key=lambda one: one.start, reverse=True):
        text = text[: edit.start] + edit.text + text[edit.end :]
    return text


def _need_edits(text: str, need: yaml.MappingNode, placement: Placement) -> Iterator[_Edit]:
    offset = ", ".join(f"{round(value, 4):g}" for value in placement.place.offset)
    vehicle = _quoted(placement.vehicle)
    said = f"{{vehicle: {vehicle}, pose: {placement.place.pose.name}, offset: [{offset}]}}"
    at = _node(need, "at")
    if at is not None:
        yield _Edit(at.start_mark.index, _last(at), said)
    else:
        key, value = next((k, v) for k, v in need.value if k.value == "name")
        if need.flow_style:
            end = value.end_mark.index
            yield _Edit(end, end, f", at: {said}")
        else:
            line = text.find("\n", value.end_mark.index)
            end = line if line >= 0 else len(text)
            yield _Edit(end, end, f"\n{' ' * key.start_mark.column}at: {said}")
    choose = _node(need, "choose")
    one = f"[{placement.part.id}]"
    if isinstance(choose, yaml.MappingNode):
        parts = _node(choose, "parts")
        if parts is not None:
            yield _Edit(parts.start_mark.index, _last(parts), one)
        elif choose.flow_style:
            start = choose.start_mark.index + 1
            yield _Edit(start, start, f"parts: {one}, ")
        else:
            first = choose.value[0][0].start_mark
            yield _Edit(first.index, first.index, f"parts: {one}\n{' ' * first.column}")
    elif choose is not None:
        yield _Edit(choose.start_mark.index, _last(choose), one)


def _last(node: yaml.Node) -> int:
    """Return where a node's own text ends: of a block, where its last value does, before any comment."""
    if isinstance(node, yaml.ScalarNode) or getattr(node, "flow_style", False) or not node.value:
        return int(node.end_mark.index)
    last = node.value[-1]
    return _last(last[1] if isinstance(last, tuple) else last)


def _entries(root: yaml.MappingNode, key: str) -> list[yaml.MappingNode]:
    found = _node(root, key)
    rows = found.value if isinstance(found, yaml.SequenceNode) else []
    return [one for one in rows if isinstance(one, yaml.MappingNode)]


def _node(mapping: yaml.MappingNode, key: str) -> yaml.Node | None:
    return next((value for name, value in mapping.value if name.value == key), None)


def _value(mapping: yaml.MappingNode, key: str) -> str:
    found = _node(mapping, key)
    return str(found.value) if isinstance(found, yaml.ScalarNode) else ""


def _quoted(name: str) -> str:
    plain = all(_PLAIN.fullmatch(word) for word in name.split("."))
    return name if plain else json.dumps(name, ensure_ascii=False)
