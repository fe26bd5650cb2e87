"""What the searches for plain blocks have in common: a kernel runs them in slices."""

from __future__ import annotations

from abc import ABC, abstractmethod

from fitplan.kernels import load
from fitplan.packing.engine.problem import Placed


class SlicedSearch(ABC):
    """A complete search that a kernel runs some nodes at a time.

    Attributes
    ----------
    kernel
        The kernel, in a memory of its own.
    overrun
        Whether the search ran out of room and was given up, which proves nothing.
    """

    def __init__(self, kernel: str, prefix: str) -> None:
        self.kernel = load(kernel)
        self.overrun = False
        self._prefix, self._first_step = prefix, self.kernel.steps
        self._dead = False

    def _begin(self, state: int) -> None:
        """Note how a search began: 0 dead, -2 out of room, else to be run."""
        self._dead, self.overrun = state == 0, state == -2

    @property
    def steps(self) -> int:
        """Steps of the search's inner loops so far."""
        return self.kernel.steps - self._first_step

    @property
    def nodes(self) -> int:
        """Nodes of the search tree so far."""
        return int(self.kernel.call(f"{self._prefix}_nodes"))

    def restart(self, seed: int) -> None:
        """Begin again, with blocks and poses tried in another order."""
        self._begin(self.kernel.call(f"{self._prefix}_restart", seed))

    def run(self, steps: int, nodes: int = 2**31 - 1) -> dict[str, Placed] | bool | None:
        """Search some steps further, and so many nodes at most.

        Returns places, False when exhausted, None when there is more to do or no room to go on.
        """
        if self._dead:
            return False
        if self.overrun:
            return None
        state = self.kernel.call(f"{self._prefix}_run", nodes, float(steps))
        if state == 0:
            self._dead = True
            return False
        if state == -2:
            self.overrun = True
        return self._places() if state == 1 else None

    @abstractmethod
    def _places(self) -> dict[str, Placed]:
        """Return the packing that was found."""
