"""The report page: one HTML file with everything inside, opened from disk without a network."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from fitplan import __version__
from fitplan.model.found import Severity
from fitplan.model.plan import Plan
from fitplan.model.proposed import Verdict
from fitplan.model.wired import Unreached
from fitplan.report.drawings.connector_drawing import connector_faces
from fitplan.report.drawings.drawing import INKS, Drawing, svg_inline
from fitplan.report.drawings.end_view import window_drawings
from fitplan.report.drawings.ghosts import ghosts_of
from fitplan.report.drawings.plots import plot_drawing
from fitplan.report.drawings.scene import scene_of
from fitplan.report.drawings.sheet_references import SheetReference, sheets_of
from fitplan.report.drawings.train_drawing import side_drawing, top_drawing
from fitplan.report.drawings.wiring_drawing import wiring_drawing
from fitplan.report.lists.actions import actions_of
from fitplan.report.lists.build_sequence import build_sequence
from fitplan.report.lists.cautions import cautions_of
from fitplan.report.lists.every_list import all_lists
from fitplan.report.lists.meter_list import coverage_words, meter_stages
from fitplan.report.lists.plan_list import PlanList, cell_words
from fitplan.report.lists.proof_words import plain_proof
from fitplan.report.lists.result_lists import option_list, place_list
from fitplan.report.lists.verdict_words import summarise
from fitplan.report.lists.wording import (
    WIRE_COLOURS,
    added_words,
    clean,
    colour_hex,
    colour_word,
    counted,
    headline,
    number,
    tells_a_figure,
)
from fitplan.report.page.findings import FindingPlaces, asked_words, asking, holding, holding_list, of_weight
from fitplan.report.page.words import Words, page_words, part_cards, wire_cards

_PAGE = Path(__file__).parent
_FONTS = Path(__file__).parents[1] / "fonts"
SIGNALS: dict[Verdict, str] = {
    "fits": "fits",
    "fits after a rebuild": "rebuild",
    "cannot fit": "stop",
    "not decided": "open",
}
"""Name of the signal that the page shows for each verdict."""
_WIRING_PIXELS = 4.6
"""Greatest size of a millimetre of the wiring drawing on the page."""
QUIET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; font-src data:"
"""What pages without a script allow: their own style and fonts."""


ACTIONS = 4
"""So many things to do stand on the first screen; the rest stands below."""


def page_bytes(
    plan: Plan,
    files: Mapping[str, str] | None = None,
    references: Sequence[SheetReference] = (),
    wiring: Drawing | None = None,
) -> bytes:
    """Return the report of a plan as one HTML file (UTF-8). Same plan, same bytes.

    Parameters
    ----------
    files
        What lies beside the page, by name, with what it is.
    references
        The printed sheets, each with what is drawn on it.
    wiring
        The wiring drawing, where it is drawn already.
    """
    words = page_words(plan, sheets_of(references))
    places = FindingPlaces(plan)
    holds = [places(found) for found in holding(plan)]
    sequence = build_sequence(plan)
    findings = [
        (weight, title, [(place, found, places(found)) for place, found in entries])
        for weight, title, entries in asking(plan)
    ]
    words |= places.words
    sheets = {sheet.name: sheet for sheet in all_lists(plan)}
    data = {"scene": scene_of(plan), "words": words, "steps": [clean(step.words) for step in sequence]}
    script, style = page_script(), base_style()
    sign, words_of_verdict = headline(plan)
    wiring = wiring or wiring_drawing(plan)
    anchors = {found: f"finding-{place}" for _, _, entries in findings for place, found, _ in entries}
    actions = [(one, anchors[one.finding] if one.finding else "fit") for one in actions_of(plan)]
    context: dict[str, Any] = {
        "plan": plan,
        "actions": actions[:ACTIONS],
        "more_actions": len(actions[ACTIONS:]),
        "holding": holding_list(plan),
        "holding_keys": holds,
        "files": list((files or {}).items()),
        "references": [(one.number, one.title, _key_names(words, one.keys)) for one in references],
        "train": clean(plan.built.train.name),
        "version": __version__,
        "signal": SIGNALS[sign],
        "headline": words_of_verdict,
        "summary": summarise(plan),
        "facts": _facts(plan),
        "findings": findings,
        "keys": _row_keys(sheets),
        "parts": part_cards(plan),
        "wires": wire_cards(plan),
        "places": place_list(plan).without("to keep it there"),
        "sheets": sheets,
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
    return page_template().render(context).encode("utf-8", "replace")


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


def page_template() -> jinja2.Template:
    """Return the template of the page, loaded once; that takes as long as to fill it in."""
    return environment().get_template("report.html.j2")


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
    environment.filters["cell"] = cell_words
    environment.filters["asked"] = asked_words
    environment.filters["proof"] = plain_proof
    environment.filters["tells"] = tells_a_figure
    environment.filters["hex"] = colour_hex
    environment.filters["filled"] = _filled_columns
    environment.globals["signals"] = SIGNALS
    environment.filters["word"] = colour_word
    environment.tests["numeric"] = lambda cell: isinstance(cell, int | float)
    return environment


def _filled_columns(sheet: PlanList) -> list[int]:
    """Return which columns of a list hold anything at all; all of them when it has no rows."""
    places = range(len(sheet.columns))
    return [place for place in places if not sheet.rows or any(row[place] != "" for row in sheet.rows)]


def _row_keys(sheets: Mapping[str, PlanList]) -> dict[str, list[str]]:
    """Return for lists of wires the key of each row; empty where a row is of several wires."""
    columns = {"joins": "wire", "cuts": "wires"}
    found: dict[str, list[str]] = {}
    for name, column in columns.items():
        place = sheets[name].columns.index(column)
        cells = [str(row[place]) for row in sheets[name].rows]
        found[name] = [f"wire-{cell}" if cell.isdecimal() else "" for cell in cells]
    return found


def _key_names(words: Words, keys: Sequence[str]) -> dict[str, list[tuple[str, str, str]]]:
    """Return parts and wires of a sheet, each with its key, its short name and what it is."""
    found: dict[str, list[tuple[str, str, str]]] = {"parts": [], "wires": []}
    for key in keys:
        kind, _, number_ = key.partition("-")
        if f"{kind}s" in found and key in words:
            short = number_ if kind == "wire" else words[key]["name"]
            found[f"{kind}s"].append((key, short, words[key]["name"]))
    return found


def _facts(plan: Plan) -> list[tuple[str, str]]:
    harness = plan.built.harness
    metres = sum(wire.cut_mm for wire in harness.wires) / 1000
    across = ", ".join(str(crossing.conductors) for crossing in harness.crossings) or "none"
    weights: tuple[Severity, ...] = ("stop", "caution", "note")
    counts = [counted(len(of_weight(plan, weight)), weight) for weight in weights]
    return [
        ("vehicles", str(len(plan.built.train.vehicles))),
        ("parts in place", f"{len(plan.built.placements)} of {len(plan.built.train.needs)}"),
        ("wires", f"{len(harness.wires)}, {number(metres, 2)} m"),
        ("conductors across", across),
        ("bricks out", str(sum(len(rebuild.remove) for rebuild in plan.built.rebuilds))),
        ("findings", ", ".join(counts)),
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
