"""Whether a charging board lies between lithium cells and train so that it protects and charges them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.circuit.nodes import Circuit
from fitplan.circuit.supply_tree import SupplyTree
from fitplan.model.electrical import CellPack, Charger, Chemistry
from fitplan.model.part import Part

Lack: TypeAlias = Literal[
    "", "none", "not wired", "wrong chemistry", "wrong number of cells", "bypassed at plus",
    "bypassed at minus", "without protection", "doubled",
]  # fmt: skip
SHARE_OF_CAPACITY: dict[Chemistry, float] = {"li-ion": 0.5, "nimh": 0.1, "alkaline": 0.0}
"""Charging current over capacity in an hour where the cells state none: common practice, no source."""


@dataclass(frozen=True)
class Protection:
    """What lies between cells and train.

    Attributes
    ----------
    owner
        The charging board that comes nearest; empty when there is none, or the cells protect themselves.
    lack
        Why it does not protect; empty when it does.
    cells
        How many cells in series the source has.
    """

    owner: str
    lack: Lack
    cells: int


@dataclass(frozen=True)
class Charging:
    """A charging board that is wired to cells: the current it charges with, and what they stand."""

    owner: str
    figures: Charger
    most_ma: float


def protection_of(
    circuit: Circuit, parts: Mapping[str, Part], tree: SupplyTree, pack: CellPack
) -> Protection:
    """Return what protects a source of lithium cells; ``parts`` are those of all needs, wired or not."""
    if pack.protected:
        return Protection("", "", pack.elements)
    found = [
        (owner, charger) for owner, part in parts.items()
        if (charger := part.figure(Charger)) is not None
    ]  # fmt: skip
    if not found:
        return Protection("", "none", pack.elements)
    order: tuple[Lack, ...] = (
        "", "bypassed at minus", "bypassed at plus", "wrong number of cells", "wrong chemistry",
        "without protection", "not wired", "none",
    )  # fmt: skip
    wired = [owner for owner, charger in found if _wired(circuit, tree, owner, charger)]
    if len(wired) > 1:
        return Protection(" and ".join(wired), "doubled", pack.elements)
    tried = [(_lack(circuit, tree, pack, owner, charger), owner) for owner, charger in found]
    lack, owner = min(tried, key=lambda pair: order.index(pair[0]))
    return Protection(owner, lack, pack.elements)


def partly_charged(circuit: Circuit, tree: SupplyTree) -> tuple[str, ...]:
    """Return the charging boards that hang on some of the cells in series of a source, and not on all.

    Their plus pin, or their minus, lies between two of the packs.
    """
    between = {node.nets for node in circuit.nodes if set(node.nets) & set(tree.between)}
    return tuple(
        owner
        for owner, part in circuit.parts.items()
        if (charger := part.figure(Charger)) is not None
        and any(
            net_pin.pin is not None and net_pin.pin.name in charger.cell_pins and node.nets in between
            for net_pin, node in circuit.at(owner)
        )
    )


def _lack(circuit: Circuit, tree: SupplyTree, pack: CellPack, owner: str, charger: Charger) -> Lack:
    if not _wired(circuit, tree, owner, charger):
        return "not wired"
    if not charger.protected:
        return "without protection"
    if charger.chemistry != pack.chemistry:
        return "wrong chemistry"
    if charger.cells != pack.elements:
        return "wrong number of cells"
    if _passed_at_minus(circuit, tree, owner, charger):
        return "bypassed at minus"
    # Nothing but the board may hang on the cells' plus, up to a fuse or switch on the way.
    rail = tree.root
    while not rail.fed and len(rail.links) == 1 and rail.links[0].owner != owner:
        if rail.links[0].regulator is not None or rail.links[0].kind != "through":
            return "bypassed at plus"
        rail = rail.links[0].below
    return "bypassed at plus" if rail.fed or len(rail.links) != 1 else ""


def _passed_at_minus(circuit: Circuit, tree: SupplyTree, owner: str, charger: Charger) -> bool:
    """Return whether anything but the board's cell pin hangs on the minus of the cells."""
    if not any(circuit.parts[owner].pin(name).role == "ground" for name in charger.cell_pins):
        return False
    minus = {node.nets for _, node in circuit.at(tree.bottom, "ground")}
    return any(
        net_pin.owner not in (tree.owner, *tree.below)
        and not (net_pin.owner == owner and net_pin.pin is not None and net_pin.pin.name in charger.cell_pins)
        and (net_pin.part is None or bool(net_pin.part.electrical))
        for node in circuit.nodes
        if node.nets in minus
        for net_pin in node.net_pins
    )


def _wired(circuit: Circuit, tree: SupplyTree, owner: str, charger: Charger) -> bool:
    plus = {node.nets for _, node in circuit.at(tree.owner, "plus", "supply")}
    minus = {node.nets for _, node in circuit.at(tree.bottom, "ground")}
    net_pins = [(net_pin, node) for net_pin, node in circuit.at(owner) if net_pin.pin is not None]
    if owner not in circuit.parts:
        return False
    part = circuit.parts[owner]
    names = charger.cell_pins or tuple(pin.name for pin in part.pins if pin.role == "supply")
    wanted = {"ground" if part.pin(name).role == "ground" else "plus" for name in names}
    met = set()
    for net_pin, node in net_pins:
        if net_pin.pin is None or net_pin.pin.name not in names:
            continue
        if net_pin.pin.role == "ground" and node.nets in minus:
            met.add("ground")
        if net_pin.pin.role != "ground" and node.nets in plus:
            met.add("plus")
    return bool(wanted) and wanted <= met


def chargings_of(circuit: Circuit, tree: SupplyTree, pack: CellPack) -> tuple[Charging, ...]:
    """Return the charging boards that are wired to a source."""
    most = pack.charge_ma or SHARE_OF_CAPACITY[pack.chemistry] * pack.capacity_mah
    return tuple(
        Charging(owner, charger, most)
        for owner, part in circuit.parts.items()
        if (charger := part.figure(Charger)) is not None and _wired(circuit, tree, owner, charger)
    )
