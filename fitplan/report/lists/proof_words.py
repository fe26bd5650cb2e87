"""Why *cannot fit* may be believed, in words for who holds the part in hand.

The proofs of packing name the argument first and then the two ways in which it was confirmed; both are kept
as they are in lists for other programs, and said plainly on the page and on the sheets.
"""

from __future__ import annotations

_BRICKS = (
    "All doubt was decided in the part's favour: bricks as small as real ones are, and every brick that may"
    " come out taken out."
)
_ARGUMENTS: dict[str, tuple[str, str, str]] = {
    "no place": (
        "The part was turned every way its mount allows, and each way was tried at every spot of the clear"
        " room with no other part there: it always meets brick or juts out.",
        _BRICKS,
        "Two ways of looking agree: one works out the room that is left, the other tries the lowest spots one"
        " after another.",
    ),
    "no seat": (
        "What its mount asks for (what it touches or looks through, and to stay inside the body) cannot be"
        " had all at once: in every turning some of it is out of reach of the rest.",
        "All doubt was decided in the part's favour: each limit was let give way by the play of real bricks.",
        "Two ways of looking agree: one goes through every tenth of a millimetre, the other sets the limits"
        " against each other.",
    ),
    "volume": (
        "Together the parts take more room than there is clear room in all.",
        _BRICKS,
        "Both volumes were reckoned twice, in different ways.",
    ),
    "search": (
        "Every way to lay the parts beside and upon one another was tried to the end: each leaves one out.",
        _BRICKS,
        "Two searches that cut the question up differently both came to the end.",
    ),
}


def plain_proof(proof: str) -> tuple[str, ...]:
    """Return a proof of *cannot fit* in plain sentences: the argument, what was granted, the second way.

    A proof of a kind that has no plain words here is returned as it is, and none as nothing.
    """
    words = _ARGUMENTS.get(proof.split(";", 1)[0].strip())
    if words is None:
        return (proof,) if proof else ()
    return words
