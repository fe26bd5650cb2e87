"""Compiled kernels belong to their sources, and arrays go in and out of them unharmed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import fitplan.kernels
from fitplan.kernels import give_back, load, reused_memory, shared
from fitplan.kernels.build import source_hash

NAMES = sorted(path.stem for path in Path(fitplan.kernels.__file__).parent.glob("*.c"))


@pytest.mark.parametrize("name", NAMES)
def test_each_kernel_was_compiled_from_its_source(name: str) -> None:
    """The hash beside the compiled kernel is that of its C source and the shared header, and it loads."""
    noted = (
        (Path(fitplan.kernels.__file__).parent / f"{name}.wasm.source").read_text(encoding="ascii").strip()
    )
    assert noted == source_hash(name)
    assert load(name).empty(4, np.uint8) > 0


@pytest.mark.parametrize("dtype", [np.uint8, np.int32, np.uint64, np.float64])
def test_arrays_come_back_as_they_went_in(dtype: type) -> None:
    """An array put in is read back the same; fresh room is zeroed, forgotten room is given anew."""
    kernel = load(NAMES[0])
    array = np.arange(60, dtype=dtype).reshape(3, 4, 5)
    address = kernel.put(array)
    np.testing.assert_array_equal(kernel.view(address, (3, 4, 5), dtype), array)
    large = kernel.empty((1000, 1000), dtype)
    assert not kernel.view(large, (1000, 1000), dtype).any()
    np.testing.assert_array_equal(kernel.view(address, (3, 4, 5), dtype), array)
    kernel.reset()
    again = kernel.empty(60, dtype)
    assert again == address
    assert not kernel.view(again, 60, dtype).any()


def test_a_kernel_that_is_full_says_so() -> None:
    """More than a kernel's 4 GiB raises MemoryError and leaves it usable."""
    kernel = load(NAMES[0])
    with pytest.raises(MemoryError, match="cannot hold"):
        kernel.empty(0xFFFFFFF0, np.uint8)
    assert kernel.empty(16, np.uint8) > 0


def test_memory_is_reused_only_while_that_is_asked_for() -> None:
    """A kernel that is done with leaves its memory, zeroed again, to the next one, and to no later one."""
    with reused_memory():
        first = load(NAMES[0])
        address = first.put(np.full(1000, 7, np.uint8))
        instance = first._instance
        del first
        second = load(NAMES[0])
        assert second._instance is instance
        assert second.empty(1000, np.uint8) == address
        assert not second.view(address, 1000, np.uint8).any()
        assert load(NAMES[0])._instance is not instance
        del second
        give_back(NAMES[0])
        assert load(NAMES[0])._instance is not instance
        last = load(NAMES[0])
        kept = last._instance
    del last
    assert load(NAMES[0])._instance is not kept


def test_a_shared_kernel_is_one_for_a_thread_and_empty_each_time() -> None:
    """Two callers in a thread get the same kernel, forgotten in between; another thread has its own."""
    first = shared(NAMES[0])
    address = first.put(np.full(100, 7, np.uint8))
    again = shared(NAMES[0])
    assert again is first
    assert again.empty(100, np.uint8) == address
    assert not again.view(address, 100, np.uint8).any()
    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(shared, NAMES[0]).result() is not first
