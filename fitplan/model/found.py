"""What checks find: findings, tables and plots."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.buying import Asked

Severity: TypeAlias = Literal["stop", "caution", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "caution", "note")


@dataclass(frozen=True)
class Finding:
    """One result of a check.

    ``figure`` stands against ``limit`` in ``unit``; ``remedy`` says what to do; ``source`` where the limit
    comes from. All of them are always given.
    """

    subject: str
    severity: Severity
    where: str
    message: str
    figure: float
    limit: float
    unit: str
    remedy: str
    source: str
    add: tuple[Asked, ...] = ()
    """Things to have for what the remedy says, where it asks for any; of alternatives the first."""


@dataclass(frozen=True)
class Table:
    """A table that a check adds to the report: header and rows of text or numbers."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str | float, ...], ...]
    note: str = ""


@dataclass(frozen=True)
class Curve:
    """A named line of a plot."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True)
class Plot:
    """A plot that a check adds to the report; axis labels carry their unit; ``limits`` are level lines."""

    title: str
    x_label: str
    y_label: str
    curves: tuple[Curve, ...]
    limits: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What one check returns."""

    subject: str
    findings: tuple[Finding, ...]
    tables: tuple[Table, ...] = ()
    plots: tuple[Plot, ...] = ()
