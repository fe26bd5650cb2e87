"""Whether chosen parts work together: enough pins of the right kinds, enough volts, current and hours."""

from __future__ import annotations

from collections.abc import Mapping

from fitplan.circuit.conductors import read_circuit
from fitplan.circuit.discharge import discharge
from fitplan.circuit.faults import volt_faults
from fitplan.circuit.supply import SupplyTree, build_supply
from fitplan.model.electrical import Bank, CellPack
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.pins.matching import match_pins


class Suitability:
    """Answers for one train; remembers what it was asked."""

    def __init__(self, train: Train) -> None:
        self._train = train
        self._known: dict[tuple[tuple[str, str], ...], str] = {}

    def why_not(self, parts: Mapping[str, Part]) -> str:
        """Return why these parts, by need, do not work together; an empty text when they do.

        Needs that are missing are left out of the question.
        """
        key = tuple(sorted((need, part.id) for need, part in parts.items()))
        if key not in self._known:
            self._known[key] = self._pins(parts) or self._volts(parts) or self._supply(parts)
        return self._known[key]

    def _pins(self, parts: Mapping[str, Part]) -> str:
        match = match_pins(self._train, parts)
        if match.unmatched:
            want = match.unmatched[0]
            return f"no pin is left for {want.name}"
        return ""

    def _volts(self, parts: Mapping[str, Part]) -> str:
        circuit = read_circuit(self._train, parts)
        for fault in volt_faults(circuit):
            givers = {giver.owner for net in fault.nets for giver in circuit.conductor(net).givers}
            if fault.kind == "too many volts" and fault.owners[0] in parts and givers <= set(parts):
                return f"{fault.pins[0]} would get {fault.figure:.2f} V; it stands {fault.limit:g} V"
        return ""

    def _supply(self, parts: Mapping[str, Part]) -> str:
        for tree in build_supply(self._train, parts).trees:
            if tree.owner not in parts:
                continue
            reason = self._source(tree)
            if reason:
                return f"{tree.owner}: {reason}"
        return ""

    def _source(self, tree: SupplyTree) -> str:
        run = discharge(tree)
        need = self._train.need(tree.owner)
        wanted = need.choice.min_hours if need.choice else 0.0
        if run.at_start and run.failed is not None:
            return f"{run.failed.owner} gets {run.failed.figure:.2f} {run.failed.unit} when all is fresh"
        if wanted and run.hours < wanted:
            return f"lasts {run.hours:.1f} h; {wanted:g} h are wanted"
        limit = tree.source.max_ma if isinstance(tree.source, CellPack | Bank) else 0.0
        if limit and run.average_ma > limit:
            return f"must give {run.average_ma:.0f} mA on average; {limit:.0f} mA are allowed"
        return ""
