"""The catalogue on the terminal: all parts as a table, and all that is said of one."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fitplan.model.part import Part
from fitplan.report.lists.wording import counted, edges_word, number, shorten
from fitplan.report.terminal.layer_text import part_text
from fitplan.report.terminal.tables import LONGEST, plain_table


def parts_table(parts: Iterable[Part]) -> RenderableType:
    """Return a catalogue as a table: id, family, name, outline and mass."""
    table = plain_table(("id", "family", "part", "outline (mm)", "mass (g)"), right=(4,))
    for part in parts:
        size = edges_word(part.bounds.size)
        table.add_row(
            shorten(part.id, 40),
            shorten(part.family, 20),
            shorten(part.name, 60),
            size,
            number(part.mass_g, 2),
        )
    return table


def part_details(part: Part) -> RenderableType:
    """Return everything that the catalogue says of one part, with a small drawing."""
    facts = Table.grid(padding=(0, 2))
    facts.add_column(style="dim")
    facts.add_column()

    def fact(name: str, value: str) -> None:
        facts.add_row(name, shorten(value, LONGEST))

    fact("id", part.id)
    fact("family", part.family)
    fact(
        "outline",
        edges_word(part.bounds.size) + " mm" + (" (typical; measure yours)" if part.typical else ""),
    )
    fact("mass", f"{number(part.mass_g, 2)} g")
    mount = part.mount
    rules = [
        f"looks out along {mount.looks}" if mount.looks else "",
        f"sits with its {mount.sits} side on a receiver" if mount.sits else "",
        "stands upright" if mount.upright else "",
        f"up may be {', '.join(mount.up)}" if mount.up else "",
        "" if mount.turnable else "only as drawn",
        "must be carried" if mount.needs_support else "needs no support",
    ]
    fact("mount", "; ".join(rule for rule in rules if rule))
    for access in part.access:
        fact(
            "access",
            f"{access.name} ({access.kind}) from {access.side}, {'often' if access.often else 'seldom'}",
        )
    for clearance in part.clearances:
        size = edges_word(clearance.solid.bounds.size)
        fact("clearance", f"{clearance.name} ({clearance.kind}), {size} mm, {clearance.needed}")
    for figures in part.electrical:
        values = [
            f"{name.replace('_', ' ')} {number(value, 3)}"
            for name, value in vars(figures).items()
            if isinstance(value, int | float) and not isinstance(value, bool)
        ]
        fact(type(figures).__name__.lower(), ", ".join(values))
    if part.cautions:
        fact("care", ", ".join(part.cautions))
    fact("source", part.source)
    blocks: list[RenderableType] = [Text(shorten(part.name, 100), "bold"), facts, Text(), part_text(part)]
    if part.pins:
        pins = plain_table(("pin", "role", "at (mm)", "exit", "takes", "joined", "can / wants"))
        for pin in part.pins:
            words = ", ".join(sorted(pin.can or pin.wants)) + (" (optional)" if pin.optional else "")
            pins.add_row(
                shorten(pin.name, 30),
                pin.role,
                ", ".join(number(v, 2) for v in pin.at),
                pin.exit,
                f"{counted(pin.wires, 'wire')}, {pin.joint}",
                shorten(pin.joined, 30),
                words,
            )
        blocks += [Text(), pins]
    return Group(*blocks)
