"""Supply trees as values: a source, its rails, what they feed, and the links between rails."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.model.electrical import Bank, CellPack, Chemistry, Controller, Regulator
from fitplan.model.part import Part

LinkKind: TypeAlias = Literal["through", "regulator", "controller"]
NOMINAL_V: dict[Chemistry, float] = {"alkaline": 1.5, "nimh": 1.2, "li-ion": 3.7}
"""Volts of one cell on its label: IEC 60086-1, IEC 61951-2, IEC 61960 (read in secondary texts)."""
FULL_V: dict[Chemistry, float] = {"alkaline": 1.68, "nimh": 1.45, "li-ion": 4.2}
"""Most volts of one fresh cell with no load: 4.20 V from a maker's data sheet, the others from memory."""
SOCKET_MOST = 1.05
"""Volts at a bank's socket over its label at most: 5.25 V for 5 V (USB 2.0 §7.2.2, from memory)."""


@dataclass(frozen=True)
class RailLoad:
    """Something that draws current from a rail.

    ``signal`` is the net that feeds it when it hangs on a controller's signal pin instead of a supply net.
    """

    owner: str
    average_ma: float
    peak_ma: float
    min_v: float = 0.0
    max_v: float = 0.0
    signal: str = ""
    back: str = ""
    """Through whose ground its current returns: a driver's for a motor; empty: through its own."""
    back_net: str = ""
    """The net by which it gets there."""
    at_times: bool = False
    """It draws at times only: a motor, what a signal pin switches, what has a duty of less than one."""


@dataclass(frozen=True)
class Rail:
    """A supply net (or the regulated rail inside a controller, with an empty net) and what hangs from it."""

    net: str
    fed: tuple[RailLoad, ...] = ()
    links: tuple[Link, ...] = ()

    def walk(self) -> Iterator[Rail]:
        """Yield this rail and all below it."""
        yield self
        for link in self.links:
            yield from link.below.walk()

    def everything(self) -> tuple[RailLoad, ...]:
        """Return all that is fed from this rail and from those below it."""
        return tuple(fed for rail in self.walk() for fed in rail.fed)


@dataclass(frozen=True)
class Link:
    """What lies between a rail and the next one."""

    kind: LinkKind
    owner: str
    part: Part
    below: Rail
    regulator: Regulator | None = None

    @property
    def socket(self) -> bool:
        """Whether it is a board that is entered by its USB socket."""
        controller = self.part.figure(Controller)
        return (
            self.kind == "controller"
            and controller is not None
            and self.regulator == behind_socket(controller)
        )


@dataclass(frozen=True)
class SupplyTree:
    """One source and the tree that it feeds.

    ``below`` are the owners of cells in series with it, from its minus downwards; the figures are those of
    all together.
    """

    owner: str
    part: Part
    source: CellPack | Bank
    root: Rail
    below: tuple[str, ...] = ()
    between: tuple[str, ...] = ()
    """The nets that join them, from above downwards."""

    @property
    def bottom(self) -> str:
        """The owner at whose minus everything returns."""
        return self.below[-1] if self.below else self.owner


@dataclass(frozen=True)
class Supply:
    """All trees of a train; ``unfed`` names needs that want a supply and hang from no source."""

    trees: tuple[SupplyTree, ...]
    unfed: tuple[str, ...] = ()
    unlike: tuple[tuple[str, ...], ...] = ()
    """Cells in series that differ in kind, size or capacity."""


def nominal_volts(source: CellPack | Bank) -> float:
    """Return the volts on a source's label."""
    if isinstance(source, Bank):
        return source.out_v
    return source.elements * NOMINAL_V[source.chemistry]


def full_volts(source: CellPack | Bank) -> float:
    """Return the most volts of a fresh source with no load."""
    if isinstance(source, Bank):
        return SOCKET_MOST * source.out_v
    return source.elements * FULL_V[source.chemistry]


def behind_socket(controller: Controller) -> Regulator:
    """Return what lies between a board's USB socket and its rail: a diode or switch that loses some volts."""
    return Regulator(
        "linear", 5.0, 4.0, 5.5, controller.usb_ma, dropout_v=controller.usb_drop_v, in_limit_v=6.0
    )
