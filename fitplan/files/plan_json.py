"""A plan as JSON: all that was found out, with the train and its parts, so that nothing else is needed."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from fitplan.errors import PlanFormatError
from fitplan.files.codec import Codec, Damaged
from fitplan.files.codec_schema import SchemaMaker
from fitplan.files.owned_reading import standing
from fitplan.model.electrical import Conductor
from fitplan.model.forms import soldered_forms, stem_of
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Pose, poses

FORMAT = "fitplan-plan"
VERSION = 13
"""Version of the format; a change of the model changes it."""
_MAX_BYTES = 200_000_000
_WIDTH = 110
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False)
_SHARED: dict[type, str] = {Part: "id"}
_WORDED: dict[type, dict[str, Any]] = {Pose: {pose.name: pose for pose in poses()}}


def plan_to_json(plan: Plan) -> bytes:
    """Return a plan as UTF-8 JSON; equal plans give equal bytes.

    Of the train's catalogue only the parts are kept that the plan refers to. Numbers are written with all the
    digits that it takes to read the same number back.
    """
    codec = Codec(_SHARED, _WORDED)
    train = plan.built.train
    trimmed = dataclasses.replace(train, catalogue=_used_parts(plan))
    slim = dataclasses.replace(plan, built=dataclasses.replace(plan.built, train=trimmed))
    content = codec.encode(Plan, slim)
    parts = {name: codec.encode_fields(part) for name, part in sorted(codec.tables[Part].items())}
    document = {"format": FORMAT, "version": VERSION, "parts": parts, "plan": content}
    return (_laid_out(document) + "\n").encode()


def plan_from_json(data: bytes | str) -> Plan:
    """Return the plan of a JSON text.

    Raises
    ------
    PlanFormatError
        When it is not JSON, not a plan, of another version, or damaged; the message says where.
    """
    document = _document(data)
    codec = Codec(_SHARED, _WORDED)
    try:
        parts = document.get("parts")
        if not isinstance(parts, dict):
            raise Damaged("parts", "no table", "an object")
        for name, item in parts.items():
            codec.tables[Part][name] = codec.decode_fields(Part, item, f"parts.{name}")
        plan = codec.decode(Plan, document.get("plan"), "plan")
        assert isinstance(plan, Plan)
        _check_references(plan)
    except Damaged as damage:
        raise PlanFormatError(f"the plan is damaged {damage}") from None
    except RecursionError:
        raise PlanFormatError("the plan is damaged: it is nested too deeply") from None
    return plan


def read_plan(path: Path) -> Plan:
    """Return the plan of a file, or of the folder that it was written into.

    In a folder where a run was killed while it wrote, it is the plan that the folder will hold once it is
    put in order; reading changes nothing.

    Raises
    ------
    PlanFormatError
        When the file cannot be read or is no plan.
    """
    path = Path(path)
    try:
        if path.is_dir():
            path = path / "plan.json"
        place = standing(path.parent, path.name)
        if place.exists() and not place.is_file():
            raise PlanFormatError(f"{path}: found what is no file; expected a plan")
        if place.stat().st_size > _MAX_BYTES:
            raise PlanFormatError(f"{path}: found a file of {place.stat().st_size} bytes; expected a plan")
        data = place.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise PlanFormatError(f"{path}: cannot be read: {reason}") from None
    try:
        return plan_from_json(data)
    except PlanFormatError as error:
        raise PlanFormatError(f"{path}: {error}") from None


def plan_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a plan file."""
    maker = SchemaMaker(_SHARED, _WORDED)
    plan = maker.of(Plan)
    parts = {"type": "object", "additionalProperties": {"$ref": f"#/$defs/{maker.define(Part)}"}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A plan",
        "type": "object",
        "properties": {
            "format": {"const": FORMAT},
            "version": {"const": VERSION},
            "parts": parts,
            "plan": plan,
        },
        "required": ["format", "version", "parts", "plan"],
        "additionalProperties": False,
        "$defs": dict(sorted(maker.definitions.items())),
    }


def _document(data: bytes | str) -> dict[str, Any]:
    def refuse(word: str) -> Any:
        raise ValueError(f"the word {word} is no JSON")

    try:
        text = data.decode("utf-8-sig") if isinstance(data, bytes) else data
        document = json.loads(text, parse_constant=refuse)
    except RecursionError:
        raise PlanFormatError("not a plan: it is nested too deeply") from None
    except UnicodeDecodeError:
        raise PlanFormatError("not a plan: it is not text in UTF-8") from None
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise PlanFormatError(f"not a plan: it is not JSON ({error.msg} in {where})") from None
    except ValueError as error:
        raise PlanFormatError(f"not a plan: it is not JSON ({error})") from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise PlanFormatError(f'not a plan: expected an object with "format": "{FORMAT}"')
    version = document.get("version")
    if version != VERSION or isinstance(version, bool):
        found = json.dumps(version)[:40]
        raise PlanFormatError(
            f"a plan of version {found}; expected {VERSION}: make it again with `fitplan plan`"
        )
    return document


def _used_parts(plan: Plan) -> dict[str, Part]:
    """Return the parts of the catalogue that the train's wiring or a result names by id."""
    train = plan.built.train
    named = {train.wiring.signal_wire, train.wiring.power_wire, train.wiring.coupling_connector}
    named |= {crossing.connector for crossing in plan.built.harness.crossings}
    named |= {row.part_id for row in plan.fit}
    named |= {part_id for option in plan.options for _, part_id, _ in option.parts}
    named |= {part.id for need in train.needs for part in need.candidates}
    named |= {placement.part.id for placement in plan.built.placements}
    named |= {*train.wiring.leads, *(net.lead for net in train.nets)}
    if not train.wiring.solder:
        # What the same parts would take soldered is told from their other forms.
        forms = {name for placement in plan.built.placements for name in soldered_forms(placement.part.id)}
        stems = {stem_of(placement.part.id) for placement in plan.built.placements}
        named |= forms | {f"{stem}-pins" for stem in stems}
    laid = {(wire.awg, wire.outer_mm) for wire in plan.built.harness.wires}
    for name, part in train.catalogue.items():
        wire = part.figure(Conductor)
        if wire is not None and (wire.awg, wire.outer_mm) in laid:
            named.add(name)
    return {name: part for name, part in sorted(train.catalogue.items()) if name in named}


def _check_references(plan: Plan) -> None:
    """Refuse results that name a vehicle or a need that the train does not have."""
    built = plan.built
    vehicles = {entry.name for entry in built.train.vehicles}
    needs = {entry.name for entry in built.train.needs}
    if not vehicles:
        raise Damaged("plan.built.train.vehicles", "an empty list", "at least one vehicle")
    _check_known("plan.built.placements", "need", needs, (item.need for item in built.placements))
    _check_known("plan.built.placements", "vehicle", vehicles, (item.vehicle for item in built.placements))
    _check_known("plan.assembly", "need", needs, (name for item in plan.assembly for name in item.needs))
    _check_known("plan.built.exchanged", "need", needs, (item.need for item in built.exchanged))
    _check_known("plan.built.exchanged", "vehicle", vehicles, (item.vehicle for item in built.exchanged))
    harness = built.harness
    ends = [end for wire in harness.wires for end in (wire.start, wire.end)]
    legs = [leg for wire in harness.wires for leg in wire.legs]
    _check_known("plan.built.harness.wires", "vehicle", vehicles, (end.vehicle for end in ends))
    _check_known("plan.built.harness.wires", "vehicle", vehicles, (leg.vehicle for leg in legs))
    _check_known(
        "plan.built.harness.splices", "vehicle", vehicles, (item.vehicle for item in harness.splices)
    )


def _check_known(way: str, kind: str, known: set[str], names: Iterable[str]) -> None:
    for name in names:
        if name not in known:
            raise Damaged(way, f"the {kind} {name!r}", f"a {kind} of the train")


def _laid_out(value: Any, indent: int = 0) -> str:
    """Return JSON text: short lists and objects on one line, long ones an item a line."""
    if isinstance(value, dict):
        items = [f"{_ENCODER.encode(key)}: {_laid_out(item, indent + 1)}" for key, item in value.items()]
        brackets = "{}"
    elif isinstance(value, list):
        items = [_laid_out(item, indent + 1) for item in value]
        brackets = "[]"
    elif isinstance(value, float) and math.isfinite(value):
        return repr(value)  # as JSON writes it, without an encoder made for each number
    else:
        return _ENCODER.encode(value)
    if indent + sum(map(len, items)) + 2 * len(items) <= _WIDTH and not any("\n" in item for item in items):
        return f"{brackets[0]}{', '.join(items)}{brackets[1]}"
    start, end = "\n" + " " * (indent + 1), "\n" + " " * indent
    return f"{brackets[0]}{start}{f',{start}'.join(items)}{end}{brackets[1]}"
