"""Put given parts into a given vehicle: the bridge from a train to the exact search and back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fitplan.budget import Budget
from fitplan.lattice.clear import SizeTest
from fitplan.lattice.cover import TENTHS
from fitplan.lattice.frame import Rounding
from fitplan.model.solids import AXES, EDGE_WORDS, Box
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.infeasible_subset import shortfalls
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import IntBox, Item, PackingProblem, Placed
from fitplan.packing.engine.solve import solve
from fitplan.packing.vehicle.box_shortage import box_shortage, room_by_size, shut_to, surely_enough
from fitplan.packing.vehicle.footing import with_a_footing
from fitplan.packing.vehicle.held_at_once import HeldAtOnce
from fitplan.packing.vehicle.laid_places import laid_places
from fitplan.packing.vehicle.over_face import over_face
from fitplan.packing.vehicle.packed_items import item_of, with_a_way_in
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.reserved_ways import ReservedWay, with_shafts, with_ways_open
from fitplan.packing.vehicle.room_for_parts import RoomForParts, box_in_tenths, of_mesh
from fitplan.packing.vehicle.roomy_places import KnownPlaces, RoomySearch
from fitplan.packing.vehicle.seat_proof import no_seat, without_a_seat
from fitplan.packing.vehicle.seats import Seat, Wanted, seats
from fitplan.packing.vehicle.shortage import PackingFailure, packing_failure, pinned_shortage
from fitplan.packing.vehicle.wishes import Wishes

NEARLY_TENTHS = 10
"""What a part may lack along an axis that goes in with the play of bricks; more is another place's lack."""

MAY_GO_IN = "so it may go in: measure the gap and try"
_ONLY_AS_BUILT = (
    "between real bricks there is up to 0.2 mm more room than drawn, and what is round needs less than the"
    f" box round it, {MAY_GO_IN}"
)


@dataclass(frozen=True)
class _Answered:
    """What was found of parts in a vehicle; ``laid``: problem and offsets where places were not asked for."""

    packing: Packing
    laid: tuple[PackingProblem, Mapping[str, Placed]] | None = None


class Packer:
    """Packs sets of parts into the vehicles of one train, and remembers every answer.

    Parameters
    ----------
    vehicles
        The train's vehicles by name.
    budget
        Of the whole plan; each question may spend its share.
    """

    def __init__(
        self, vehicles: Mapping[str, Vehicle], budget: Budget | None = None, *, seed: int = 0
    ) -> None:
        self._vehicles = dict(vehicles)
        self._budget = budget or Budget.usual()
        self._seed = seed
        self._cavities: dict[tuple[str, frozenset[str]], RoomForParts] = {}
        self._seats: dict[tuple[str, str, str, Rounding], tuple[Seat, ...]] = {}
        self._items: dict[tuple[str, str, str, Rounding, bool], Item] = {}
        self._plain: dict[tuple[object, ...], _Answered] = {}
        self._kept: dict[str, tuple[IntBox, ...]] = {}
        self._ways_in: set[tuple[str, str]] = set()
        self._footings: set[tuple[str, str]] = set()
        self._at_once: dict[tuple[str, frozenset[str]], HeldAtOnce] = {}
        self._sizes: dict[tuple[str, tuple[Box, ...]], SizeTest] = {}

    def __getstate__(self) -> dict[str, object]:
        """Return what another process gets: all but the kernels and what was held at once."""
        return {**self.__dict__, "_sizes": {}, "_at_once": {}}

    def copy(self) -> Packer:
        """Return a packer that knows all that this one knows now, and goes its own way from here."""
        other = Packer(self._vehicles, self._budget, seed=self._seed)
        other._cavities, other._plain = dict(self._cavities), dict(self._plain)
        other._seats, other._items, other._kept = dict(self._seats), dict(self._items), dict(self._kept)
        other._ways_in, other._footings = set(self._ways_in), set(self._footings)
        return other

    def vehicle(self, name: str) -> Vehicle:
        """Return a vehicle by its name in the train."""
        return self._vehicles[name]

    def keep_for_wires(self, name: str, boxes: Sequence[Box]) -> None:
        """Keep parts out of some boxes (mm) of a vehicle from now on, so that wires have room there.

        Only where parts are placed: what cannot fit is still asked without them.
        """
        kept = (*self._kept.get(name, ()), *(box_in_tenths(box) for box in boxes))
        self._kept[name] = tuple(dict.fromkeys(kept))
        self._cavities = {key: cavity for key, cavity in self._cavities.items() if key[0] != name}
        self._plain = {key: packing for key, packing in self._plain.items() if key[0] != name}
        self._at_once = {key: known for key, known in self._at_once.items() if key[0] != name}

    def demand_way_in(self, name: str, need: str) -> None:
        """Place a need's part only where it can come in through an opening, from now on."""
        self._ways_in.add((name, need))
        self._plain = {key: packing for key, packing in self._plain.items() if key[0] != name}

    def demand_footing(self, name: str, need: str) -> None:
        """Place a need's part only where it stands on the body alone, from now on, if it does anywhere."""
        self._footings.add((name, need))
        self._plain = {key: packing for key, packing in self._plain.items() if key[0] != name}

    def cavity(self, name: str, removed: frozenset[str] = frozenset()) -> RoomForParts:
        """Return a vehicle's room with some bricks taken out."""
        key = (name, removed)
        if key not in self._cavities:
            self._cavities[key] = RoomForParts(name, self._vehicles[name], removed, self._kept.get(name, ()))
        return self._cavities[key]

    def seats(self, name: str, entry: Wanted, rounding: Rounding = "outward") -> tuple[Seat, ...]:
        """Return the seats of a need's part in a vehicle, sure or possible ones; worked out once."""
        key = (name, entry.need.name, entry.part.id, rounding)
        if key not in self._seats:
            self._seats[key] = seats(entry.part, entry.need, name, self._vehicles[name], rounding)
        return self._seats[key]

    def _problem(
        self, cavity: RoomForParts, wanted: Sequence[Wanted], rounding: Rounding, *, access: bool = False
    ) -> PackingProblem:
        """Return the packing problem of some parts in a vehicle, rounded outwards or relaxed.

        With ``access`` the room that plugs and fingers need while the vehicle is open is kept clear too.
        """
        items = []
        for entry in wanted:
            key = (cavity.name, entry.need.name, entry.part.id, rounding, access)
            if key not in self._items:
                found = self.seats(cavity.name, entry, rounding)
                self._items[key] = item_of(entry, found, cavity.vehicle, rounding, access)
            items.append(self._items[key])
        return PackingProblem((cavity.sure if rounding == "outward" else cavity.possible,), tuple(items))

    def possible(self, name: str, wanted: Wanted, removed: frozenset[str]) -> PackingProblem:
        """Return the relaxed problem of one part in a vehicle: every place that it may have is in it."""
        return self._problem(self.cavity(name, removed), (wanted,), "inward")

    def pack_as_it_is(
        self,
        name: str,
        wanted: Sequence[Wanted],
        removed: frozenset[str] = frozenset(),
        *,
        proofs: bool = True,
        come_out: frozenset[str] = frozenset(),
        held: tuple[ReservedWay, ...] = (),
    ) -> Packing:
        """Put parts into a vehicle with these bricks taken out and no others.

        Without ``proofs`` only *fits* is looked for, and everything else is *not decided*. ``come_out``:
        needs whose parts must be come by through an opening with all others in; ``held``: parts
        that are fixed, their ways out open. Nothing is proved with either.
        """
        ordered = tuple(sorted(wanted, key=lambda entry: entry.need.name))
        answered, key = self._answered(name, ordered, removed, proofs, come_out, held)
        if answered.laid is not None:
            placements = laid_places(self.cavity(name, removed), ordered, *answered.laid)
            answered = _Answered(replace(answered.packing, placements=placements))
            self._plain[key] = answered
        return answered.packing

    def without_places(
        self,
        name: str,
        wanted: Sequence[Wanted],
        removed: frozenset[str] = frozenset(),
        *,
        proofs: bool = True,
    ) -> Packing:
        """Return what `pack_as_it_is` does but for the places: what carries each part takes long to find."""
        ordered = tuple(sorted(wanted, key=lambda entry: entry.need.name))
        return replace(self._answered(name, ordered, removed, proofs)[0].packing, placements=())

    def _answered(
        self,
        name: str,
        ordered: tuple[Wanted, ...],
        removed: frozenset[str],
        proofs: bool,
        come_out: frozenset[str] = frozenset(),
        held: tuple[ReservedWay, ...] = (),
    ) -> tuple[_Answered, tuple[object, ...]]:
        """Return what is known of a question once it was asked, and the key that it is kept under."""
        key = (name, removed, come_out, held, tuple((entry.need.name, entry.part.id) for entry in ordered))
        for kept in ((*key, True), (*key, proofs)):
            if (known := self._plain.get(kept)) is not None:
                return known, kept
        tried = self._plain.get((*key, False)) if proofs else None
        tried = None if tried is None or tried.packing.late else tried
        answered = self._pack(self.cavity(name, removed), ordered, proofs, come_out, held, tried)
        # What fits has no need of a proof: the answer serves both questions.
        kept = (*key, proofs or answered.packing.verdict == "fits")
        self._plain[kept] = answered
        return answered, kept

    def pack_roomily(
        self,
        name: str,
        wanted: Sequence[Wanted],
        removed: frozenset[str],
        wishes: Wishes,
        *,
        come_out: frozenset[str] = frozenset(),
        seed: int = 0,
        insist: bool = False,
    ) -> Packing | None:
        """Put parts into a vehicle where their wires like it; None when no such places are found.

        First with room for plugs and fingers, and so that the parts of ``come_out`` are come by with all
        others in (without that only if it is not to ``insist``); then without these. Nothing is proved.
        """
        cavity = self.cavity(name, removed)
        if wishes.kept:
            cavity = replace(cavity, kept=(*cavity.kept, *(box_in_tenths(box) for box in wishes.kept)))
        ordered = tuple(sorted(wanted, key=lambda entry: entry.need.name))
        known: KnownPlaces = {}
        plugs = any(c.needed == "access" for entry in ordered for c in entry.part.clearances)
        for access, shafts in ((True, True), (False, True), (True, False), (False, False)):
            if (access and not plugs) or (shafts and not come_out) or (insist and come_out and not shafts):
                continue
            items = tuple(
                item_of(entry, self.seats(name, entry), cavity.vehicle, "outward", access, every_pose=True)
                for entry in ordered
            )
            problem = self._as_demanded(cavity, PackingProblem((cavity.sure,), items), ordered)
            if shafts:
                problem = with_shafts(cavity.vehicle, removed, problem, ordered, come_out)
            if any(not item.variants for item in problem.items):
                continue
            search = RoomySearch(ordered, problem, cavity.vehicle, wishes, seed, known)
            places = search.find()
            if places is None or check_placement(problem, places):
                continue
            placements = laid_places(cavity, ordered, problem, places)
            return Packing(name, "fits", placements, work=search.steps)
        return None

    def holds(self, name: str, wanted: Sequence[Wanted], removed: frozenset[str] = frozenset()) -> bool:
        """Return quickly whether parts go into a vehicle, some bricks out; False when not found at once."""
        if any(not self.seats(name, entry) for entry in wanted):
            return False
        cavity = self.cavity(name, removed)
        known = self._at_once.setdefault((name, removed), HeldAtOnce(cavity.vehicle, self._seed))
        return known.holds(
            wanted, lambda parts: self._problem(cavity, parts, "outward"), self._budget.share("question")
        )

    def why_not_together(self, name: str, wanted: Sequence[Wanted]) -> PackingFailure:
        """Say which of some parts, as few as can be, have no room together with every removable brick out."""
        removed = frozenset(brick.name for brick in self._vehicles[name].removables)
        problem = self._problem(self.cavity(name, removed), wanted, "inward")
        answer = solve(problem, self._budget.share("question"), seed=self._seed)
        reason = self._budget.share("reason")
        failure = packing_failure(problem, answer, name, bool(removed), reason, seed=self._seed)
        if len(wanted) == 1 and not failure.axis and wanted[0].need.looks is None:
            return replace(failure, text=f"{failure.text}; {surely_enough(wanted[0].part)}")
        return failure

    def box_shortage(self, name: str, entry: Wanted) -> tuple[float, str, str, str]:
        """Tell by how much a single part misses a vehicle: mm, axis, pose and a sentence.

        The part is taken as its bounding box; of all poses and axes the smallest shortage counts.  For a part
        that is fixed to a place: how far the nearest free place in the same pose is; for one that sits on a
        face: how far it reaches too far from it.  All empty when the
        bounding box would fit (something else than a plain dimension is in the way).
        """
        if entry.need.pinned is not None:
            free = replace(entry, need=replace(entry.need, pinned=None))
            vehicle, cavity = self._vehicles[name], self.cavity(name)
            item = item_of(free, seats(free.part, free.need, name, vehicle), vehicle, "outward", False)
            return pinned_shortage(PackingProblem((cavity.sure,), (item,)), name, entry)
        vehicle = self._vehicles[name]
        if (over := over_face(vehicle, name, entry))[0]:
            return over
        key = (name, shut := shut_to(vehicle, entry.need))
        if key not in self._sizes:
            self._sizes[key] = room_by_size(vehicle, shut)
        return box_shortage(vehicle, name, entry, self._sizes[key])

    def _pack(
        self,
        cavity: RoomForParts,
        wanted: tuple[Wanted, ...],
        proofs: bool,
        come_out: frozenset[str],
        held: tuple[ReservedWay, ...] = (),
        tried: _Answered | None = None,
    ) -> _Answered:
        """Ask anew; ``tried``: what came of it without proofs, and comes of it again up to there."""
        for entry in wanted:
            if not self.seats(cavity.name, entry, "inward"):
                return _Answered(without_a_seat(entry.part, entry.need, cavity.name, cavity.vehicle))
        work = 0
        if len(wanted) > 1:
            for entry in wanted:
                alone = self._alone(cavity, entry, proofs)
                work += alone.work
                if alone.verdict != "fits":
                    return _Answered(replace(alone, work=work))
        if tried is not None:
            return self._refuted(cavity, wanted, tried.packing)
        # First with room for plugs and fingers, as one would build it; without it when that does not go.
        # Wishes for a way out are looked into for a fixed number of tries: the clock decides nothing.
        for access in (True, False):
            sure = self._problem(cavity, wanted, "outward", access=access)
            if access and sure == self._problem(cavity, wanted, "outward"):
                continue
            sure = self._as_demanded(cavity, sure, wanted)
            if come_out:
                sure = with_shafts(cavity.vehicle, cavity.removed, sure, wanted, come_out)
            if held:
                sure = with_ways_open(sure, held)
            answer = solve(
                sure,
                self._budget.share("question"),
                seed=self._seed,
                proofs=False,
                quick=access or bool(come_out or held),
            )
            work += answer.work
            if answer.status == "fits":
                return _Answered(Packing(cavity.name, "fits", work=work), (sure, answer.placements))
        if len(wanted) > 1 and not held and answer.unconfirmed is None:
            # The exact search packs from a corner and is lost among many parts that have room enough.
            nothing, out = Wishes(()), cavity.removed
            loose = self.pack_roomily(
                cavity.name, wanted, out, nothing, come_out=come_out, seed=self._seed, insist=True
            )
            if loose is not None:
                return _Answered(replace(loose, work=work + loose.work))
        found = Packing(cavity.name, "not decided", reason=answer.gap, work=work, late=answer.late)
        return self._refuted(cavity, wanted, found) if proofs else _Answered(found)

    def _alone(self, cavity: RoomForParts, entry: Wanted, proofs: bool) -> Packing:
        """Return whether a part alone goes in, without places; what goes in with fewer bricks out does."""
        name, asked = cavity.name, ((entry.need.name, entry.part.id),)
        if (name, entry.need.name) not in self._footings:  # what it stood on may be out
            for vehicle, removed in self._cavities:
                if vehicle == name and removed < cavity.removed:
                    known = self._plain.get((name, removed, frozenset(), (), asked, True))
                    if known is not None and known.packing.verdict == "fits":
                        return known.packing
        return self.without_places(name, (entry,), cavity.removed, proofs=proofs)

    def _refuted(self, cavity: RoomForParts, wanted: tuple[Wanted, ...], tried: Packing) -> _Answered:
        """Return whether parts that were not laid surely cannot be, with all that was done before."""
        question = self._budget.share("question")
        relaxed = solve(self._problem(cavity, wanted, "inward"), question, seed=self._seed)
        work = tried.work + relaxed.work
        if relaxed.status == "cannot_fit" and relaxed.proof is not None:
            proof = f"{relaxed.proof.kind}; confirmed: {', '.join(relaxed.proof.confirmations)}"
            reason = relaxed.proof.text.rstrip(".")
            return _Answered(Packing(cavity.name, "cannot fit", reason=reason, proof=proof, work=work))
        if relaxed.status == "fits":
            drawn = "they find no room together as drawn"
            if len(wanted) == 1:
                drawn = self._missing_for_sure(cavity, wanted[0])
            gap = f"{drawn}; {of_mesh(cavity.vehicle)}{_ONLY_AS_BUILT}"
        else:
            gap = relaxed.gap or tried.reason
        late = tried.late or relaxed.late
        return _Answered(Packing(cavity.name, "not decided", reason=gap, work=work, late=late))

    def _missing_for_sure(self, cavity: RoomForParts, entry: Wanted) -> str:
        """Say what a part lacks until it surely fits, as the beginning of a sentence."""
        drawn = no_seat(entry.part, entry.need, cavity.name, cavity.vehicle, play=0.0)
        if drawn is not None and any(drawn.missing_mm):
            return f"{drawn.text} as drawn"
        if not self.seats(cavity.name, entry):
            return "its seat lies between two tenths of a millimetre"
        sure = self._problem(cavity, (entry,), "outward")
        misses = shortfalls(sure, sure.items[0], only_least=True)
        if not misses or misses[0].missing > NEARLY_TENTHS:
            # A little along several axes at once: no one figure says what is missing.
            return "it finds no room as drawn"
        axis = EDGE_WORDS[AXES.index(misses[0].axis)]
        return f"{misses[0].missing / TENTHS:.1f} mm of {axis} are missing as drawn"

    def _as_demanded(
        self, cavity: RoomForParts, problem: PackingProblem, wanted: Sequence[Wanted]
    ) -> PackingProblem:
        """Cut offsets down to those with a way in, or at which a part stands on the body, where demanded."""
        items = []
        for item, entry in zip(problem.items, wanted, strict=True):
            if (cavity.name, item.name) in self._ways_in:
                variants = [with_a_way_in(cavity, variant) for variant in item.variants]
                item = replace(item, variants=tuple(v for v in variants if v.domain))
            if (cavity.name, item.name) in self._footings:
                item = with_a_footing(cavity, problem, item, entry.part)
            items.append(item)
        return replace(problem, items=tuple(items))
