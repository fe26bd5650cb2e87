"""The usual ways to feed a board, side by side for this train's loads.

Cells at the raw input pin; fewer or more of them with a regulator of each kind; a USB bank with its own
switch; and, because it is so common, a 9 V block at the raw pin. They are compared by hours for each Wh
carried, and each passes the checks of a supply before it is advised.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from fitplan.checks.board_loads import NOTHING_AHEAD, Ahead
from fitplan.checks.supply_limits import DEFAULTS, links_of, regulator_limits, source_limits
from fitplan.circuit.discharge import MOST_LEFT, Discharge, discharge
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, SupplyTree, full_volts, nominal_volts
from fitplan.model.electrical import Bank, CellPack, Controller, OwnLeads, Regulator, RegulatorKind
from fitplan.model.facts import mass_of
from fitplan.model.found import Table
from fitplan.model.part import Part
from fitplan.model.proposed import HOLDING, FitRow

ALIKE = 0.8
"""Ways that reach this share of the most hours per Wh are alike: of them the smallest is advised."""


@dataclass(frozen=True)
class SupplyWay:
    """One way to feed the train."""

    name: str
    parts: tuple[Part, ...]
    source: CellPack | Bank
    result: Discharge
    sound: bool
    """It passes the checks of a supply: no stop, and no caution on its regulator or its cells."""

    @property
    def primary(self) -> bool:
        """Whether its cells are thrown away when they are empty."""
        return isinstance(self.source, CellPack) and self.source.chemistry == "alkaline"

    @property
    def hours(self) -> float:
        """Running time."""
        return self.result.hours

    @property
    def used(self) -> float:
        """Share of the charge that is used when the first thing gives up."""
        return 1.0 - self.result.left

    @property
    def uses_its_charge(self) -> bool:
        """Whether at most a half is left at the end; a 9 V block is dear."""
        block = isinstance(self.source, CellPack) and self.source.cells_per_unit >= 6
        return self.result.left <= MOST_LEFT and not block

    @property
    def hours_per_wh(self) -> float:
        """Hours for each Wh that is carried by the label: what is left over counts against it."""
        carried = label_wh(self.source)
        return self.hours / carried if carried > 0 and self.hours < math.inf else 0.0

    @property
    def volume(self) -> float:
        """Room of the boxes round all its parts in mm³."""
        return sum(part.bounds.volume for part in self.parts)

    @property
    def cost_per_hour(self) -> float:
        """Price of a set of primary cells over the running time; 0 when no price is given."""
        price = self.parts[0].price if self.primary else 0.0
        return price / self.hours if self.hours > 0 else 0.0


def label_wh(source: CellPack | Bank) -> float:
    """Return the energy of a source by its label: nominal volts times capacity (Wh)."""
    volts = source.cell_v if isinstance(source, Bank) else nominal_volts(source)
    return volts * source.capacity_mah / 1000


def advised(
    ways: Iterable[SupplyWay], hours: float, primary: bool, nowhere: frozenset[str]
) -> SupplyWay | None:
    """Return the way that is advised: of those that last, pass and go in, the most hours for what is carried.

    Among those that come near to the best (`ALIKE`) it is the smallest.

    Parameters
    ----------
    primary
        The user has primary cells, and is told of primary cells as long as some do.
    nowhere
        Ids of parts that are known to go into no vehicle.
    """
    good = [
        way
        for way in ways
        if way.sound and way.hours >= hours and way.uses_its_charge
        and not any(part.id in nowhere for part in way.parts)
    ]  # fmt: skip
    kind = [way for way in good if way.primary == primary] or good
    best = max((way.hours_per_wh for way in kind), default=0.0)
    alike = [way for way in kind if way.hours_per_wh >= ALIKE * best]
    return min(alike, key=lambda way: (way.volume, way.parts[0].id), default=None)


def usual_ways(
    catalogue: Mapping[str, Part],
    brain: Part,
    loads: tuple[RailLoad, ...],
    ahead: Ahead = NOTHING_AHEAD,
) -> tuple[SupplyWay, ...]:
    """Return every usual way to feed a board with the parts of the catalogue.

    Parameters
    ----------
    brain
        The controller board; its own regulator serves cells at the raw pin.
    loads
        All that is fed with regulated volts, the board itself included.
    ahead
        What the same source feeds ahead of that, such as motors: every way must carry it too.
    """
    figures = brain.figure(Controller)
    if figures is None or not loads:
        return ()
    bare = (part for part in catalogue.values() if part.figure(OwnLeads) is None)
    parts = sorted(bare, key=lambda part: part.id)
    makers = [
        (part, regulator)
        for part in sorted(parts, key=lambda part: (part.bounds.volume, part.id))
        if (regulator := part.figure(Regulator)) is not None and part.figure(Controller) is None
    ]
    comparing = _Comparing(brain, figures, loads, ahead)
    found: list[SupplyWay] = []
    for part in parts:
        if (pack := part.figure(CellPack)) is not None:
            block = pack.cells_per_unit >= 6
            found += comparing.at_raw(BLOCK if block else RAW, part, pack)
            found += [] if block else comparing.regulated(part, pack, makers)
        elif (bank := part.figure(Bank)) is not None:
            found += comparing.plugged(part, bank)
    return tuple(found)


RAW, BLOCK = "cells at the raw pin", "9 V block at the raw pin"
_KINDS: dict[RegulatorKind, str] = {
    "step-up": "fewer cells with a step-up",
    "step-up-down": "cells with a step-up/down",
    "step-down": "more cells with a step-down",
    "linear": "cells with a linear regulator",
}
PLUGGED, LIGHT = "USB bank with its own switch", "USB bank (may switch itself off)"
WAYS = (RAW, *_KINDS.values(), PLUGGED, LIGHT, BLOCK)
"""The usual ways in the order of the table."""


@dataclass
class _Comparing:
    """Runs a train's loads from one source after the other; like cells in other holders run alike."""

    brain: Part
    figures: Controller
    loads: tuple[RailLoad, ...]
    ahead: Ahead = NOTHING_AHEAD
    known: dict[tuple[CellPack | Bank, Rail], tuple[Discharge, bool]] = field(default_factory=dict)

    def at_raw(self, name: str, part: Part, pack: CellPack) -> Iterator[SupplyWay]:
        regulator = self.figures.regulator
        if (
            regulator is None
            or full_volts(pack) > regulator.in_max_v
            or nominal_volts(pack) <= regulator.out_v
            or not self.ahead.stands(nominal_volts(pack), full_volts(pack))
        ):
            return
        inside = Link("controller", "board", self.brain, Rail("", self.loads), regulator)
        yield self._way(name, (part,), pack, self.ahead.beside(links=(inside,)))

    def regulated(
        self, part: Part, pack: CellPack, makers: Sequence[tuple[Part, Regulator]]
    ) -> Iterator[SupplyWay]:
        """Yield the way by the smallest regulator of each kind that these cells may be joined to."""
        done: set[RegulatorKind] = set()
        if not self.ahead.stands(nominal_volts(pack), full_volts(pack)):
            return
        for maker, regulator in makers:
            if regulator.kind in done or not self._serves(regulator, pack):
                continue
            done.add(regulator.kind)
            link = Link("regulator", "regulator", maker, Rail("", self.loads), regulator)
            yield self._way(_KINDS[regulator.kind], (part, maker), pack, self.ahead.beside(links=(link,)))

    def _serves(self, regulator: Regulator, pack: CellPack) -> bool:
        """Return whether volts before and behind a regulator are such as cells and loads stand."""
        label, full, out = nominal_volts(pack), full_volts(pack), regulator.out_v
        before = regulator.in_min_v < label and full <= regulator.in_max_v
        rises, falls = label < out, label >= out + regulator.dropout_v
        turns = {"step-up": rises and full <= out + 0.3, "step-up-down": True}.get(regulator.kind, falls)
        least = max(self.figures.logic_v, max((fed.min_v for fed in self.loads), default=0.0))
        most = min((fed.max_v for fed in self.loads if fed.max_v > 0), default=math.inf)
        own = self.figures.regulator
        board = out <= (self.figures.rail_max_v or 1.1 * self.figures.logic_v) or (
            own is not None and own.in_min_v <= out <= own.in_max_v
        )
        return before and turns and least <= out <= most and board

    def plugged(self, part: Part, bank: Bank) -> Iterator[SupplyWay]:
        every = (*self.loads, *self.ahead.rail.everything())
        stands = self.ahead.stands(nominal_volts(bank), full_volts(bank))
        if stands and sum(fed.peak_ma for fed in every) <= bank.max_ma:
            stays = sum(fed.average_ma for fed in every if not fed.at_times) >= bank.off_below_ma
            name = PLUGGED if stays else LIGHT
            yield self._way(name, (part,), bank, self.ahead.beside(self.loads))

    def _way(self, name: str, parts: tuple[Part, ...], source: CellPack | Bank, root: Rail) -> SupplyWay:
        known = self.known.get((source, root))
        if known is None:
            tree = SupplyTree(parts[0].name, parts[0], source, root)
            findings = list(source_limits(tree, DEFAULTS))
            for link, volts in links_of(root, nominal_volts(source)):
                findings += regulator_limits(tree, link, volts, {}, DEFAULTS)
            result = discharge(tree, course=False)
            bare = isinstance(source, CellPack) and source.chemistry == "li-ion" and not source.protected
            passes = all(finding.severity == "note" for finding in findings)
            sound = passes and not bare and not result.at_start
            known = self.known[source, root] = (result, sound)
        return SupplyWay(name, parts, source, *known)


def shown(ways: Iterable[SupplyWay], hours: float) -> Iterator[SupplyWay]:
    """Yield of each way the smallest that lasts, the longest, and the one with most hours per Wh."""
    by_name: dict[str, list[SupplyWay]] = {}
    for way in ways:
        by_name.setdefault(way.name, []).append(way)
    for name in WAYS:
        known = by_name.get(name, [])
        if not known:
            continue
        longest = max(known, key=lambda way: (way.hours, -way.volume))
        lasting = [way for way in known if way.hours >= hours]
        smallest = min(lasting, key=lambda way: way.volume, default=longest)
        thrifty = max(lasting, key=lambda way: (round(way.hours_per_wh, 3), -way.volume), default=longest)
        seen: list[SupplyWay] = []
        for way in (smallest, longest, thrifty):
            if way not in seen:
                seen.append(way)
                yield way


def ways_table(ways: Iterable[SupplyWay], hours: float, fit: tuple[FitRow, ...], volts: float) -> Table:
    """Return the comparison as a table; ``fit`` says where parts fit, where it was asked."""
    rows: list[tuple[str | float, ...]] = []
    for way in shown(ways, hours):
        failed = way.result.failed
        rows.append(
            (
                way.name,
                " + ".join(part.name for part in way.parts),
                round(way.hours, 1) if way.hours < math.inf else "no load",
                "yes" if way.hours >= hours else "no",
                f"{100 * way.used:.0f} %",
                round(way.hours_per_wh, 2),
                f"{failed.owner} {failed.reason}" if failed is not None else "runs until empty",
                round(way.result.average_ma, 1),
                round(way.cost_per_hour, 3) or "no price" if way.primary else "rechargeable",
                round(sum(mass_of(part) for part in way.parts), 1),
                round(way.volume / 1000, 1),
                fit_text(way.parts, fit),
            )
        )
    return Table(
        "Usual ways to feed this train",
        (
            "way",
            "parts",
            "hours",
            f"lasts {hours:g} h",
            "charge used",
            "hours per Wh",
            "gives up first",
            "mAh per hour",
            "cost per hour",
            "mass (g)",
            "room (cm³)",
            "fits",
        ),
        tuple(rows),
        f"loads at {volts:g} V; of each way the smallest that lasts, the longest, and the most hours per Wh "
        "carried; leads left out",
    )


def fit_text(parts: Iterable[Part], fit: tuple[FitRow, ...]) -> str:
    """Return where parts fit, or that it was not asked."""
    texts = []
    for part in parts:
        rows = [row for row in fit if row.part_id == part.id]
        good = [row.vehicle for row in rows if row.verdict in HOLDING]
        if not rows:
            texts.append("not asked")
        elif good:
            texts.append(f"{', '.join(dict.fromkeys(good))}")
        elif all(row.verdict == "cannot fit" for row in rows):
            texts.append("nowhere")
        else:
            texts.append("not decided")
    return " + ".join(texts) if len(set(texts)) > 1 else (texts[0] if texts else "not asked")
