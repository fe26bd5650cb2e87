"""Whether every one of several wishes can have something of its own."""

from __future__ import annotations

from collections.abc import Collection, Sequence


def all_served(choices: Sequence[Collection[int]]) -> bool:
    """Return whether each wish can have one of its choices that no other wish has.

    Augmenting ways in a bipartite graph (Kuhn 1955); choices are tried in their order.

    Parameters
    ----------
    choices
        For each wish the numbers of what would serve it.

    >>> all_served([[0, 1], [0]]), all_served([[0], [0]])
    (True, False)
    """
    holder: dict[int, int] = {}

    def serve(wish: int, tried: set[int]) -> bool:
        for choice in choices[wish]:
            if choice not in tried:
                tried.add(choice)
                if choice not in holder or serve(holder[choice], tried):
                    holder[choice] = wish
                    return True
        return False

    return all(serve(wish, set()) for wish in range(len(choices)))
