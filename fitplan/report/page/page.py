"""The report page: one HTML file with everything inside, opened from disk without a network."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from fitplan import __version__
from fitplan.model.plan import Finding, Plan, Severity, Unreached, Verdict
from fitplan.report.drawings.connector_drawing import connector_faces
from fitplan.report.drawings.drawing import INKS, svg_inline
from fitplan.report.drawings.end_view import window_drawings
from fitplan.report.drawings.ghosts import ghosts_of
from fitplan.report.drawings.plots import plot_drawing
from fitplan.report.drawings.scene import FAMILY_COLOURS, OTHER_FAMILY, scene_of
from fitplan.report.drawings.train_drawing import side_drawing, top_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.harness_lists import (
    Cell,
    PlanList,
)
from fitplan.report.lists.meter_list import coverage_words, meter_stages
from fitplan.report.lists.result_lists import (
    all_lists,
    option_list,
    place_key,
    place_list,
)
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import (
    WIRE_COLOURS,
    added_words,
    clean,
    colour_hex,
    colour_word,
    counted,
    end_word,
    headline,
    millimetres,
    number,
    tells_a_figure,
    way_word,
)

_PAGE = Path(__file__).parent
_FONTS = Path(__file__).parents[1] / "fonts"
SIGNALS: dict[Verdict, str] = {
    "fits": "fits",
    "fits after a rebuild": "rebuild",
    "cannot fit": "stop",
    "not decided": "open",
}
"""Name of the signal that the page shows for each verdict."""
SEVERITY_WORDS: dict[Severity, str] = {
    "stop": "Stops: what must change first",
    "caution": "Cautions: what to mind",
}


_WIRING_PIXELS = 4.6
"""Greatest size of a millimetre of the wiring drawing on the page."""
QUIET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; font-src data:"
"""What pages without a script allow: their own style and fonts."""


ACTIONS = 4
"""So many things to do stand on the first screen; the rest stands below."""


def page_bytes(plan: Plan, files: Mapping[str, str] | None = None) -> bytes:
    """Return the report of a plan as one HTML file (UTF-8). Same plan, same bytes.

    ``files``: what lies beside the page, by name, with what it is.
    """
    words = page_words(plan)
    sequence = build_sequence(plan)
    data = {"scene": scene_of(plan), "words": words, "steps": [clean(step.words) for step in sequence]}
    script, style = page_script(), base_style()
    sign, words_of_verdict = headline(plan)
    wiring = wiring_drawing(plan)
    findings = _findings(plan)
    urgent = [found for _, _, entries in findings for _, found in entries]
    context: dict[str, Any] = {
        "plan": plan,
        "actions": urgent[:ACTIONS],
        "more_actions": len(urgent[ACTIONS:]),
        "holding": holding_list(plan),
        "keys_of": _FindingKeys(plan),
        "files": list((files or {}).items()),
        "train": clean(plan.built.train.name),
        "version": __version__,
        "signal": SIGNALS[sign],
        "headline": words_of_verdict,
        "summary": summarise(plan),
        "facts": _facts(plan),
        "findings": findings,
        "parts": _part_cards(plan),
        "wires": _wire_cards(plan),
        "places": place_list(plan).without("to keep it there"),
        "sheets": {sheet.name: sheet for sheet in all_lists(plan)},
        "meter": meter_stages(plan),
        "meter_says": coverage_words(plan.meter.coverage) if plan.meter.tests else "",
        "meter_held": plan.meter.held,
        "side": Markup(svg_inline(side_drawing(plan))),
        "above": Markup(svg_inline(top_drawing(plan))),
        "wiring": Markup(svg_inline(wiring)),
        "connectors": [Markup(svg_inline(face)) for face in connector_faces(plan)],
        "wiring_width": round(wiring.width * _WIRING_PIXELS),
        "outcomes": _outcomes(plan),
        "options": option_list(plan),
        "sequence": sequence,
        "ghosts": ghosts_of(plan),
        "windows": [(one.title, Markup(svg_inline(one))) for one in window_drawings(plan)],
        "vehicles": [clean(entry.name) for entry in plan.built.train.vehicles],
        "rebuilds": plan.built.rebuilds,
        "unreached": _unreached(plan),
        "cautions": cautions_of(plan),
        "colours": [(code, *WIRE_COLOURS[code]) for code in _colours_used(plan)],
        "script": Markup(script),
        "style": Markup(style),
        "data": Markup(embedded(data)),
        "policy": _policy(script),
    }
    return environment().get_template("report.html.j2").render(context).encode("utf-8", "replace")


def page_words(plan: Plan) -> dict[str, dict[str, str]]:
    """Return for each key of the page (part, wire, splice) its name and a line of detail."""
    words: dict[str, dict[str, str]] = {}
    for place, placement in enumerate(plan.built.placements):
        size = " × ".join(number(edge) for edge in placement.part.bounds.size)
        detail = f"{clean(placement.part.name)}, {size} mm, in {clean(placement.vehicle)}"
        detail += (
            f", carried by {clean(placement.carried_by)}; to keep it there: {clean(place_key(placement))}"
        )
        words[f"part-{place}"] = {"name": f"{place + 1} {clean(placement.need)}", "detail": detail}
    for wire in plan.built.harness.wires:
        ends = f"{clean(end_word(wire.start))} to {clean(end_word(wire.end))}"
        detail = f"{ends}, {colour_word(wire.colour)}, AWG {wire.awg}, cut {millimetres(wire.cut_mm)}"
        name = f"wire {wire.number}, {clean(wire.net)}"
        net = f"net-{wire.net}"
        words[f"wire-{wire.number}"] = {
            "name": name,
            "detail": f"{detail}; {clean(way_word(wire))}",
            "net": net,
        }
        numbers = [one.number for one in plan.built.harness.wires if one.net == wire.net]
        listed = ", ".join(str(one) for one in numbers)
        words[net] = {"name": f"net {clean(wire.net)}", "detail": f"wires {listed}"}
    for place, splice in enumerate(plan.built.harness.splices):
        joined = ", ".join(str(entry) for entry in splice.wires)
        detail = f"{clean(splice.net)} in {clean(splice.vehicle)}, wires {joined}"
        words[f"splice-{place}"] = {"name": f"splice {clean(splice.name)}", "detail": detail}
    for place, ghost in enumerate(ghosts_of(plan)):
        lacks = [
            f"{number(lack, 1)} mm of {axis}"
            for lack, axis in zip(ghost.short, ("length", "width", "height"), strict=True)
            if lack
        ]
        detail = f"{clean(ghost.part.name)} in {clean(ghost.vehicle)}: {' and '.join(lacks)} short"
        words[f"ghost-{place}"] = {"name": f"{clean(ghost.need)}: no place", "detail": detail}
    return words


def embedded(data: Mapping[str, Any]) -> str:
    """Return JSON that can stand inside a script element, whatever its texts hold."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), sort_keys=True)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


@cache
def page_script() -> str:
    """Return the page's script: our own sources and the 3D library, bundled."""
    return (_PAGE / "page.js").read_text(encoding="utf-8")


@cache
def base_style() -> str:
    """Return the style sheet with its colours and fonts filled in."""
    faces = "".join(
        f"@font-face{{font-family:'Barlow Semi Condensed';font-weight:{weight};font-display:swap;"
        f"src:url(data:font/woff2;base64,{_base64(f'barlow-semi-condensed-{name}.woff2')}) format('woff2')}}"
        for weight, name in ((400, "regular"), (600, "semibold"))
    )
    inks = "".join(f".f-{ink}{{fill:var(--{ink})}}.s-{ink}{{stroke:var(--{ink})}}" for ink in INKS)
    light = ";".join(f"--{ink}:{colour}" for ink, colour in INKS.items())
    return f"{faces}:root{{{light}}}{(_PAGE / 'style.css').read_text(encoding='utf-8')}{inks}"


def _base64(name: str) -> str:
    return base64.b64encode((_FONTS / name).read_bytes()).decode("ascii")


def _policy(script: str) -> str:
    """Allow the page's own script and nothing from any network, even if some text were taken for markup."""
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    return (
        f"default-src 'none'; script-src 'sha256-{digest}'; style-src 'unsafe-inline'; font-src data:;"
        " img-src data:; base-uri 'none'; form-action 'none'"
    )


@cache
def environment() -> jinja2.Environment:
    """Return what renders the pages: escaping by itself, with the filters that word values."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_PAGE),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["clean"] = clean
    environment.filters["added"] = added_words
    environment.filters["number"] = number
    environment.filters["cell"] = _cell
    environment.filters["asked"] = asked_words
    environment.filters["tells"] = tells_a_figure
    environment.filters["hex"] = colour_hex
    environment.filters["filled"] = _filled_columns
    environment.globals["signals"] = SIGNALS
    environment.filters["word"] = colour_word
    environment.tests["numeric"] = lambda cell: isinstance(cell, int | float)
    return environment


def _cell(cell: Cell) -> str:
    return clean(cell) if isinstance(cell, str) else number(cell, 3)


def _filled_columns(sheet: PlanList) -> list[int]:
    """Return which columns of a list hold anything at all; all of them when it has no rows."""
    places = range(len(sheet.columns))
    return [place for place in places if not sheet.rows or any(row[place] != "" for row in sheet.rows)]


def _facts(plan: Plan) -> list[tuple[str, str]]:
    harness = plan.built.harness
    metres = sum(wire.cut_mm for wire in harness.wires) / 1000
    across = ", ".join(str(crossing.conductors) for crossing in harness.crossings) or "none"
    weights: tuple[Severity, ...] = ("stop", "caution", "note")
    counts = [counted(len(_of(plan, weight)), weight) for weight in weights]
    return [
        ("vehicles", str(len(plan.built.train.vehicles))),
        ("parts in place", f"{len(plan.built.placements)} of {len(plan.built.train.needs)}"),
        ("wires", f"{len(harness.wires)}, {number(metres, 2)} m"),
        ("conductors across", across),
        ("bricks out", str(sum(len(rebuild.remove) for rebuild in plan.built.rebuilds))),
        ("findings", ", ".join(counts)),
    ]


def _findings(plan: Plan) -> list[tuple[str, str, list[tuple[int, Finding]]]]:
    """Return stops and cautions, numbered through, under their titles."""
    found: list[tuple[str, str, list[tuple[int, Finding]]]] = []
    number_ = 0
    for weight, title in SEVERITY_WORDS.items():
        entries = [(number_ + i, one) for i, one in enumerate(_of(plan, weight), 1)]
        number_ += len(entries)
        found.append((weight, title, entries))
    return found


def _of(plan: Plan, severity: Severity) -> list[Finding]:
    return [found for found in plan.findings if found.severity == severity]


def asked_words(found: Finding) -> str:
    """Return how a figure is held against its limit: *at most* or *at least*, and whether it keeps it."""
    holds = found.severity == "note"
    above = found.figure > found.limit
    if found.figure == found.limit:
        return "just the limit of"
    return (
        ("must be at most" if above else "must be at least")
        if not holds
        else ("is at least" if above else "is at most")
    )


def holding_list(plan: Plan) -> PlanList:
    """Return the checks that hold: value, limit, and what is left between the two as a share of the limit."""
    rows: list[tuple[Cell, ...]] = []
    for found in _of(plan, "note"):
        way = "at most" if found.figure <= found.limit else "at least"
        room = abs(found.limit - found.figure)
        share = f"{100 * room / abs(found.limit):.0f} %" if found.limit else ""
        remedy = "" if found.remedy.startswith("nothing to do") else found.remedy
        rows.append(
            (
                found.subject,
                found.where,
                found.message,
                f"{number(found.figure, 3)} {found.unit}",
                way,
                f"{number(found.limit, 3)} {found.unit}",
                share,
                remedy,
                found.source,
            )
        )
    columns = ("check", "where", "what", "value", "must be", "limit", "margin", "to do", "by")
    return PlanList("holding", "What holds", columns, tuple(rows))


class _FindingKeys:
    """Finds the part or wire that a finding is about."""

    def __init__(self, plan: Plan) -> None:
        self._parts = {one.need: f"part-{i}" for i, one in enumerate(plan.built.placements)}
        self._nets = {wire.net: f"net-{wire.net}" for wire in plan.built.harness.wires}

    def __call__(self, found: Finding) -> str:
        """Return the key of what a finding is about; empty where that is no part and no net."""
        if found.where in self._nets and found.subject in ("wire", "wiring", "nets"):
            return self._nets[found.where]
        named = found.where.split(" in ")[0].split(",")[0]
        return self._parts.get(found.where) or self._parts.get(named, "")


def _part_cards(plan: Plan) -> list[dict[str, str]]:
    return [
        {
            "key": f"part-{place}",
            "number": str(place + 1),
            "name": clean(placement.need),
            "what": clean(placement.part.name),
            "where": clean(placement.vehicle),
            "colour": FAMILY_COLOURS.get(placement.part.family, OTHER_FAMILY),
        }
        for place, placement in enumerate(plan.built.placements)
    ]


def _wire_cards(plan: Plan) -> list[dict[str, str]]:
    return [
        {
            "key": f"wire-{wire.number}",
            "number": str(wire.number),
            "name": clean(wire.net),
            "code": clean(wire.colour),
            "colour": colour_hex(wire.colour),
            "ends": f"{clean(end_word(wire.start))} to {clean(end_word(wire.end))}",
        }
        for wire in plan.built.harness.wires
    ]


def _colours_used(plan: Plan) -> Iterable[str]:
    used = {wire.colour for wire in plan.built.harness.wires}
    return [code for code in WIRE_COLOURS if code in used]


def _outcomes(plan: Plan) -> list[dict[str, Any]]:
    """Return what the checks add: tables and plots."""
    found = []
    for outcome in plan.outcomes:
        plots = [(plot, Markup(svg_inline(plot_drawing(plot)))) for plot in outcome.plots]
        if plots or outcome.tables:
            found.append({"subject": clean(outcome.subject), "plots": plots, "tables": outcome.tables})
    return found


def _unreached(plan: Plan) -> list[tuple[str, list[Unreached]]]:
    """Gather the pins that no wire reaches by the reason why."""
    found: dict[str, list[Unreached]] = {}
    for missed in plan.unreached:
        found.setdefault(missed.reason, []).append(missed)
    return list(found.items())
