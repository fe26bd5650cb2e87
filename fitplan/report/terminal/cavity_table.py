"""The clear spaces of a vehicle, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from fitplan.meshes.cavities import Cavity
from fitplan.report.lists.wording import edges_word, number
from fitplan.report.terminal.tables import plain_table


def print_cavities(cavities: Sequence[Cavity], console: Console) -> None:
    """Print one row a cavity, then its necks and the parts whose bounding box fits."""
    if not cavities:
        console.print("no clear space of this size")
        return
    table = plain_table(("", "where (x, y, z from, mm)", "volume", "largest boxes (mm)", "widest ball"))
    for cavity in cavities:
        table.add_row(
            str(cavity.number),
            ", ".join(number(value) for value in cavity.bounds.low),
            f"{cavity.volume_mm3 / 1000:.1f} cm³",
            "\n".join(edges_word(box.size) for box in cavity.boxes),
            f"Ø {2 * cavity.ball.radius:.1f} mm",
        )
    console.print(table)
    for cavity in cavities:
        for neck in cavity.necks:
            at = ", ".join(f"{value:.0f}" for value in neck.at)
            text = f"cavity {cavity.number}: a neck {neck.width:.1f} mm wide at {at}"
            console.print(Text(text))
        fitting = ", ".join(cavity.parts) or "none of the catalogue"
        console.print(Text(f"cavity {cavity.number} takes, each alone: {fitting}"))
