"""Kernels called through the runtime's C interface, beside the runtime's own way of calling."""

from __future__ import annotations

import numpy as np
import pytest
import wasmtime

from fitplan.kernels import load
from fitplan.kernels.build import names_of_kernels


@pytest.mark.parametrize("name", names_of_kernels())
def test_both_ways_give_the_same_numbers(name: str) -> None:
    """A float, none, and a whole number."""
    kernel = load(name)
    instance = kernel._instance
    own = {
        function: instance._exports[function]
        for function in ("steps_taken", "reset", "allocate_raw", "allocate")
    }
    store = instance._store
    assert kernel.call("steps_taken") == own["steps_taken"](store) == 0.0
    assert isinstance(kernel.call("steps_taken"), float)
    for size in (1, 16, 1000):
        assert kernel.call("reset") is own["reset"](store) is None
        first = kernel.call("allocate_raw", size)
        own["reset"](store)
        assert own["allocate_raw"](store, size) == first
        assert kernel.call("allocate", 16) == first + -(-size // 16) * 16
        assert kernel.view(first, 16, np.uint8).shape == (16,)
    assert kernel.call("allocate_raw", 0xFFFF0000) == 0  # more than there can be


def test_a_call_that_reads_beyond_the_memory_is_an_error_and_the_next_one_works() -> None:
    """The runtime says so; the kernel is whole after it."""
    kernel = load("slide")
    beyond = 0xFFFF0000
    with pytest.raises(wasmtime.Trap, match="out of bounds"):
        kernel.call("slide_out", beyond, 1000, 0, 10, 1, 63, 0, beyond, beyond)
    room = kernel.empty(64, np.int32)
    assert kernel.call("slide_out", room, 0, 0, 10, 1, 63, 0, room, room) == 1


def test_too_few_or_too_many_numbers_are_refused() -> None:
    """Before anything is called."""
    kernel = load("slide")
    for numbers in ((), (1, 2)):
        with pytest.raises(ValueError, match="zip"):
            kernel.call("allocate_raw", *numbers)
