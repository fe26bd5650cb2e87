"""Hashes that are worked out once: those that a dataclass has, and none that another process would get."""

import os
import pickle
import subprocess
import sys
from dataclasses import fields, replace

import pytest

import fitplan
from fitplan.model.part import Part
from fitplan.model.vehicle import Vehicle


def values() -> list[Vehicle | Part]:
    train = fitplan.read_train("market-tram")
    return [train.vehicles[0].vehicle, next(iter(train.catalogue.values()))]


@pytest.mark.parametrize("number", [0, 1])
def test_a_hash_is_that_of_all_fields(number: int) -> None:
    """Equal values have equal hashes, asked for before or after; another name gives another."""
    value = values()[number]
    first = hash(value)
    assert first == hash(value) == hash(tuple(getattr(value, field.name) for field in fields(value)))
    same = replace(value)
    assert same is not value
    assert same == value
    assert {value: 1}[same] == 1
    assert hash(replace(value, name="another")) != first


def test_another_process_works_it_out_anew() -> None:
    """Texts have other hashes there: what was carried over is still found by what is read there."""
    carried = [value for value in values() if hash(value)]
    code = (
        "import pickle, sys; from tests.test_hashed_once import values;"
        "there = pickle.loads(sys.stdin.buffer.read());"
        "sys.exit(not all({one: 1}.get(other) for one, other in zip(there, values())))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        input=pickle.dumps(carried),
        env={**os.environ, "PYTHONHASHSEED": "12345"},
        timeout=60,
        check=False,
    )
    assert done.returncode == 0
