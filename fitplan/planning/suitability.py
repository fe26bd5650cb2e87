"""Whether chosen parts work together: enough pins of the right kinds, enough volts, current and hours.

What a check would stop, and pins that get more volts than they are made for, count where another candidate
earns fewer; where none does, it is told by the check and not by the choice.
"""

from __future__ import annotations

from collections.abc import Mapping

from fitplan.checks.of_parts import stops_of_parts
from fitplan.circuit.discharge import MOST_LEFT, discharge
from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.faults import volt_faults
from fitplan.circuit.supply_tree import SupplyTree
from fitplan.model.electrical import Bank, CellPack
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.planning.exchanges import MOST_OTHERS, exchanges
from fitplan.planning.refusal import FAILS, OUTDONE, RUINS, Refusal

NOT_WITH = "; not with "
"""Between why parts do not work together and the candidate that would do."""


class Suitability:
    """Answers for one train; remembers what it was asked."""

    def __init__(self, train: Train) -> None:
        self._train = train
        self._known: dict[tuple[tuple[str, str], ...], str] = {}
        self._circuits: dict[tuple[tuple[str, str], ...], TrainCircuit] = {}
        self._stopped: dict[tuple[tuple[str, str], ...], tuple[Finding, ...]] = {}

    def circuit(self, parts: Mapping[str, Part]) -> TrainCircuit:
        """Return the train's circuit with these parts, by need; worked out once."""
        key = _key(parts)
        if key not in self._circuits:
            self._circuits[key] = TrainCircuit.of(self._train, parts)
        return self._circuits[key]

    def why_not(self, parts: Mapping[str, Part]) -> str:
        """Return why these parts, by need, do not work together, and how badly; an empty text when they do.

        Needs that are missing are left out of the question.
        """
        key = _key(parts)
        if key not in self._known:
            self._known[key] = self._refusal(parts)
        return self._known[key]

    def _refusal(self, parts: Mapping[str, Part]) -> str:
        circuit = self.circuit(parts)
        if why := self._fails(circuit):
            return Refusal(why, RUINS if self._volts(circuit) else FAILS, self.stops(parts))
        if why := self._wasted(circuit) or self._outdone(parts):
            return Refusal(why, OUTDONE, self.stops(parts))
        return ""

    def _fails(self, circuit: TrainCircuit) -> str:
        """Return what these parts cannot do, whatever others of the lists can."""
        return self._pins(circuit) or self._volts(circuit) or self._starved(circuit)

    def stops(self, parts: Mapping[str, Part]) -> int:
        """Return how many stops stand with these parts, by need, wherever they lie."""
        return len(self.stopped_by(parts))

    def _strained_by(self, parts: Mapping[str, Part]) -> list[Fault]:
        """Return where volts stay below what destroys a part, but above what it is made for."""
        return [one for one in volt_faults(self.circuit(parts).nodes) if one.kind == "volts out of range"]

    def stopped_by(self, parts: Mapping[str, Part]) -> tuple[Finding, ...]:
        """Return what a check stops with these parts, by need, wherever they lie."""
        key = _key(parts)
        if key not in self._stopped:
            self._stopped[key] = stops_of_parts(self._train, self.circuit(parts))
        return self._stopped[key]

    def _outdone(self, parts: Mapping[str, Part]) -> str:
        """Return what stops or strains these parts where one or two other candidates would less."""
        stops, strains = self.stopped_by(parts), self._strained_by(parts)
        if not stops and not strains:
            return ""
        for some in exchanges(
            {name: self._train.need(name).others(part.id) for name, part in parts.items()}, MOST_OTHERS
        ):
            swapped = {**parts, **some}
            if self._fails(self.circuit(swapped)):
                continue
            with_others = NOT_WITH + " and ".join(f"{other.name} as {name}" for name, other in some.items())
            fewer = self.stopped_by(swapped)
            milder = self._strained_by(swapped)
            if len(fewer) == len(stops) and len(milder) < len(strains):
                still = {one.pins for one in milder}
                strain = next(one for one in strains if one.pins not in still)
                volts = f"{strain.figure:.2f} V; it is made for {strain.limit:g} V"
                return f"{strain.pins[0]} would get {volts}{with_others}"
            if len(fewer) < len(stops):
                left = {(one.where, one.unit) for one in fewer}
                gone = next((one for one in stops if (one.where, one.unit) not in left), stops[0])
                return f"{gone.where}: {gone.message}{with_others}"
        return ""

    def _pins(self, circuit: TrainCircuit) -> str:
        if circuit.pins.unmatched:
            want = circuit.pins.unmatched[0]
            return f"no pin is left for {want.name}"
        return ""

    def _volts(self, circuit: TrainCircuit) -> str:
        parts, nodes = circuit.chosen, circuit.nodes
        for fault in volt_faults(nodes):
            givers = {giver.owner for net in fault.nets for giver in nodes.node(net).givers}
            if fault.kind == "too many volts" and fault.owners[0] in parts and givers <= set(parts):
                return f"{fault.pins[0]} would get {fault.figure:.2f} V; it stands {fault.limit:g} V"
        return ""

    def _starved(self, circuit: TrainCircuit) -> str:
        for tree in self._trees(circuit):
            if reason := self._source(tree):
                return f"{tree.owner}: {reason}"
        return ""

    @staticmethod
    def _trees(circuit: TrainCircuit) -> list[SupplyTree]:
        """Return the supplies that are parts, not built into a vehicle."""
        return [tree for tree in circuit.supply.trees if tree.owner in circuit.chosen]

    def _source(self, tree: SupplyTree) -> str:
        run = discharge(tree, course=False)
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

    def _wasted(self, circuit: TrainCircuit) -> str:
        """Return that most of a source's charge is left over where another candidate uses more than half."""
        for tree in self._trees(circuit):
            left = discharge(tree, course=False).left
            if left <= MOST_LEFT:
                continue
            for other in self._train.need(tree.owner).candidates:
                if (
                    other.id != tree.part.id
                    and (share := self._left_with(other, tree.owner, circuit)) is not None
                ):
                    told = f"{100 * left:.0f} % of its charge would be left"
                    return f"{tree.owner}: {told}; {other.name} leaves {100 * share:.0f} %"
        return ""

    def _left_with(self, other: Part, owner: str, circuit: TrainCircuit) -> float | None:
        """Return the share of its charge that another source leaves; None where it does no better."""
        parts = {**circuit.chosen, owner: other}
        others = self.circuit(parts)
        if self._fails(others):
            return None
        run = next(discharge(one, course=False) for one in others.supply.trees if one.owner == owner)
        # What a check would stop is no better, or each would be refused for the other.
        stopped = len(self.stopped_by(parts)) > len(self.stopped_by(circuit.chosen))
        return run.left if run.left <= MOST_LEFT and not stopped else None


def _key(parts: Mapping[str, Part]) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((need, part.id) for need, part in parts.items()))
