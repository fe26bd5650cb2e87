"""Objects that belong together, and apart: shells over several objects, and colours within one.

A block whose faces are of several materials may come as several objects, none of them closed; they are one.
An object whose bricks have several colours may be asked for by colour; each of its shells is then of one.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.groups import groups_of, numbered
from fitplan.meshes.hollows import manifold_groups
from fitplan.meshes.scene_in import SceneObject

_SAME = 2e-6
"""Share of the extent within which points are one."""


def merged_objects(pieces: Sequence[SceneObject], kinds: Sequence[object]) -> list[SceneObject]:
    """Return the pieces with those joined that close one another: they share edges that are open in each.

    Parameters
    ----------
    kinds
        What each piece is; only pieces of one kind are joined.
    """
    if len(pieces) < 2:
        return list(pieces)
    starts = np.cumsum([0, *(len(piece.points) for piece in pieces)])
    points = np.concatenate([piece.points for piece in pieces])
    faces = np.concatenate([piece.faces + start for piece, start in zip(pieces, starts, strict=False)])
    owner = np.repeat(np.arange(len(pieces)), [len(piece.faces) for piece in pieces])
    edge, of = _open_edges(points, faces, owner)
    known = list(dict.fromkeys(kinds))
    kind = np.array([known.index(entry) for entry in kinds], dtype=np.int64)
    key = np.column_stack((edge, kind[of]))
    order = np.lexsort(key.T[::-1])
    key, of = key[order], of[order]
    same = (
        (key[1:] == key[:-1]).all(axis=1) & (of[1:] != of[:-1]) if len(key) else np.zeros(0, dtype=np.bool_)
    )
    if not same.any():
        return list(pieces)
    group = groups_of(np.column_stack((of[:-1][same], of[1:][same])), len(pieces))
    result = []
    for number, piece in enumerate(pieces):
        if group[number] == number:
            mine = [int(n) for n in np.flatnonzero(group == number)]
            result.append(piece if len(mine) == 1 else _joined([pieces[n] for n in mine]))
    return result


def _open_edges(
    points: NDArray[np.float64], faces: NDArray[np.int64], owner: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return edges (n, 2), by numbers of places, where an odd number of a piece's faces meet."""
    extent = float(np.ptp(points, axis=0).max()) or 1.0
    corner = numbered(points, extent * _SAME)[faces]
    edge = np.concatenate([corner[:, [i, (i + 1) % 3]] for i in range(3)])
    edge.sort(axis=1)
    span = int(corner.max()) + 1
    of = np.tile(owner, 3)
    key = (of * span + edge[:, 0]) * span + edge[:, 1]
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    odd = first[(count % 2 == 1)]
    # An edge without length is a sliver's, not open.
    odd = odd[edge[odd, 0] != edge[odd, 1]]
    return edge[odd], of[odd]


def _joined(pieces: Sequence[SceneObject]) -> SceneObject:
    """Return one object of several; the first lends its name."""
    starts = np.cumsum([0, *(len(piece.points) for piece in pieces)])
    faces = np.concatenate([piece.faces + start for piece, start in zip(pieces, starts, strict=False)])
    palette: dict[str, int] = {}
    colours = []
    for piece in pieces:
        places = [palette.setdefault(shade, len(palette)) for shade in (*piece.palette, piece.colour)]
        own = piece.colours if piece.colours is not None else np.full(len(piece.faces), len(places) - 1)
        colours.append(np.array([*places, -1], dtype=np.int32)[own])
    all_colours = np.concatenate(colours)
    main = int(np.bincount(all_colours[all_colours >= 0], minlength=1).argmax())
    return replace(
        pieces[0],
        colour=list(palette)[main] if palette else "",
        points=np.concatenate([piece.points for piece in pieces]),
        faces=faces,
        palette=tuple(palette),
        colours=all_colours,
    )


def parted_by_colour(pieces: Sequence[SceneObject], asked: Collection[str]) -> list[SceneObject]:
    """Return the pieces with those parted that have shells of an asked colour beside others.

    A shell has the colour of most of its faces, whatever else is on it.
    """
    result: list[SceneObject] = []
    for piece in pieces:
        if piece.colours is None or not set(asked) & set(piece.palette):
            result.append(piece)
            continue
        shell = manifold_groups(piece.points, piece.faces, np.zeros(len(piece.faces), dtype=np.int64))
        votes = np.zeros((int(shell.max()) + 1, len(piece.palette) + 1), dtype=np.int64)
        np.add.at(votes, (shell, piece.colours), 1)
        main = votes.argmax(axis=1)[shell]
        for place in np.unique(main):
            colour = piece.palette[place] if place < len(piece.palette) else ""
            part = piece.chosen(main == place)
            result.append(replace(part, colour=colour, colours=None, palette=(colour,)))
    return result
