"""A mirrored train gets the mirrored wires: one of two images is chosen, and solved the same way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.routing.handedness import mirrored, mirrored_way, to_be_mirrored
from fitplan.routing.narrow import Place, Run
from fitplan.routing.negotiate import negotiate
from fitplan.routing.taut import Tautener

from .stress_train import StressTrain, stress_train


@given(
    st.integers(0, 10_000), st.tuples(st.integers(1, 5), st.integers(1, 6), st.integers(1, 4)), st.booleans()
)
@settings(max_examples=80, deadline=None)
def test_exactly_one_of_two_images_is_chosen(seed: int, shape: tuple[int, int, int], even: bool) -> None:
    """Of a map with places and its image exactly one is to be mirrored, unless both are the same."""
    rng = np.random.default_rng(seed)
    free = rng.random(shape) > 0.3
    if even:
        free = free | free[:, ::-1]
    places = [tuple(int(rng.integers(n)) for n in shape) for _ in range(3)]
    image = free[:, ::-1]
    others = [mirrored(place, shape[1]) for place in places]
    if (free == image).all() and places == others:
        assert not to_be_mirrored(free, places)
        assert not to_be_mirrored(image, others)
    else:
        assert to_be_mirrored(free, places) != to_be_mirrored(image, others)


def lengths(train: StressTrain) -> list[float]:
    """Return the taut lengths of a train's wires, solved in the chosen image."""
    ends = [voxel for run in train.runs for voxel in (*run.starts, *run.goals)]
    if to_be_mirrored(train.free, ends):
        train = image_of(train)
    done = negotiate(train.free, train.runs, places=train.places)
    assert done.settled
    pull = Tautener(train.free, 0.8, "walls")
    return [pull.pull(way.voxels).length_mm for way in done.ways if way is not None]


def image_of(train: StressTrain) -> StressTrain:
    """Return the train mirrored left for right."""
    width = train.free.shape[1]
    return StressTrain(
        train.free[:, ::-1].copy(),
        tuple(
            Place(p.name, mirrored_way(np.asarray(p.voxels, dtype=np.int32), width), p.capacity)
            for p in train.places
        ),
        tuple(
            Run(
                run.name,
                tuple(mirrored(v, width) for v in run.starts),
                tuple(mirrored(v, width) for v in run.goals),
                run.diameter,
                run.demand,
            )
            for run in train.runs
        ),
    )


@pytest.mark.parametrize("seed", [0, 1])
def test_the_mirror_train_has_the_same_lengths(seed: int) -> None:
    """Two vehicles with 14 nets, ports included: each wire of the mirror train is as long as its own."""
    train = stress_train(vehicles=2, nets=14, seed=seed)
    assert lengths(train) == pytest.approx(lengths(image_of(train)), abs=1e-9)
