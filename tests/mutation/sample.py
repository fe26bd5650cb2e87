"""A sample of a room's faults, and what came of each; kept in a file, so that it can be planted in pieces."""

from __future__ import annotations

import json
import os
import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path

from tests.mutation.operators import Mutant
from tests.mutation.session import NOWHERE, Outcome

Name = tuple[str, str, str, str, int]
"""File, function, before, after, and which of those that are alike so far: it outlasts a shift of lines."""


def kept_in(name: str) -> Path:
    """Return where a file of this name is kept between runs: outside the checkout."""
    home = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    folder = Path(home) / "fitplan-mutation"
    folder.mkdir(parents=True, exist_ok=True)
    return folder / name


def drawn(every: Sequence[Mutant], seed: str, count: int) -> list[Mutant]:
    """Return one fault of each of equal stretches of all, in an order of chance.

    Each is drawn with the same probability; a room's files have as many as they have faults, and so has any
    part of the sample but for chance.
    """
    chance = random.Random(seed)
    count = min(count, len(every))
    stretch = len(every) / max(count, 1)
    found = [every[int((place + chance.random()) * stretch)] for place in range(count)]
    chance.shuffle(found)
    return found


def names_of(every: Sequence[Mutant]) -> dict[Name, Mutant]:
    """Return all faults by names that outlast a shift of lines."""
    seen: Counter[tuple[str, str, str, str]] = Counter()
    found: dict[Name, Mutant] = {}
    for one in every:
        short = (one.file, one.function, one.before, one.after)
        found[*short, seen[short]] = one
        seen[short] += 1
    return found


@dataclass
class Sample:
    """What was drawn, and what came of it so far.

    Attributes
    ----------
    path
        The file that keeps it.
    of
        So many faults there were to draw from.
    names
        What was drawn, in the order of planting.
    outcomes
        What came of those that were planted.
    """

    path: Path
    every: int
    names: list[Name]
    outcomes: dict[Name, Outcome] = field(default_factory=dict)

    @classmethod
    def of(cls, path: Path, every: Sequence[Mutant], seed: str, count: int) -> Sample:
        """Return the sample that was kept, or a fresh one."""
        if not path.exists():
            known = {id(one): name for name, one in names_of(every).items()}
            return cls(path, len(every), [known[id(one)] for one in drawn(every, seed, count)])
        data = json.loads(path.read_text())
        outcomes = {tuple(n): Outcome(**{**o, "mutant": Mutant(**o["mutant"])}) for n, o in data["outcomes"]}
        return cls(path, data["every"], [tuple(name) for name in data["names"]], outcomes)

    def forget(self, which: Callable[[Outcome], bool]) -> None:
        """Forget what came of some, so that they are planted again."""
        self.outcomes = {name: one for name, one in self.outcomes.items() if not which(one)}

    def open(self, every: Sequence[Mutant]) -> list[Mutant]:
        """Return what is still to be planted and is there."""
        there = names_of(every)
        return [there[name] for name in self.names if name not in self.outcomes and name in there]

    def keep(self, outcomes: Sequence[Outcome]) -> None:
        """Add what came of some, and write it all."""
        left = [name for name in self.names if name not in self.outcomes]
        for one in outcomes:
            mutant = one.mutant
            short = (mutant.file, mutant.function, mutant.before, mutant.after)
            name = next(name for name in left if name[:4] == short)
            left.remove(name)
            self.outcomes[name] = one
        rows = [(name, asdict(one)) for name, one in self.outcomes.items()]
        self.path.write_text(json.dumps({"every": self.every, "names": self.names, "outcomes": rows}))

    def told(self, room: str, seed: int) -> str:
        """Return the faults that were not noticed, and the share of those that were."""
        counted = [one for one in self.outcomes.values() if one.answer != NOWHERE]
        seen = [one for one in counted if one.noticed]
        rows = [f"  left: {one.answer}: {one.mutant}  {one.by}" for one in counted if not one.noticed]
        share = len(seen) / max(len(counted), 1)
        rows.sort()
        rows.append(
            f"{room}: seed {seed}, {len(counted)} planted of {len(self.names)} drawn of {self.every}, "
            f"{len(seen)} noticed ({share:.0%})"
        )
        return "\n".join(rows)
