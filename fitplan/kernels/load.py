"""Load a kernel and move numpy arrays in and out of its memory."""

from __future__ import annotations

import ctypes
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
import wasmtime
from numpy.typing import DTypeLike, NDArray


@cache
def _engine() -> wasmtime.Engine:
    return wasmtime.Engine()


@cache
def _module(name: str) -> wasmtime.Module:
    code = (resources.files("fitplan.kernels") / f"{name}.wasm").read_bytes()
    return wasmtime.Module(_engine(), code)


class Kernel:
    """One instance of a kernel with a memory of its own; not to be shared between threads.

    Exported C functions are called by name: ``kernel.call("search", pointer, count)``.
    """

    def __init__(self, name: str) -> None:
        self._store = wasmtime.Store(_engine())
        self._exports = wasmtime.Instance(self._store, _module(name), []).exports(self._store)
        self._memory: Any = self._exports["memory"]
        self._functions: dict[str, Any] = {}

    def call(self, function: str, *arguments: float) -> Any:
        """Call an exported function with plain numbers; returns its number, or None."""
        target = self._functions.get(function)
        if target is None:
            target = self._functions[function] = self._exports[function]
        return target(self._store, *arguments)

    def reset(self) -> None:
        """Forget all arrays that were allocated."""
        self.call("reset")

    def empty(self, shape: int | tuple[int, ...], dtype: DTypeLike) -> int:
        """Allocate a zeroed array in the kernel's memory and return its address.

        Raises
        ------
        MemoryError
            When the kernel's 4 GiB of memory cannot hold it.
        """
        size = int(np.prod(shape)) * np.dtype(dtype).itemsize
        address = int(self.call("allocate", max(size, 1)))
        if address <= 0 and address == 0:
            raise MemoryError(f"the kernel cannot hold another {size} bytes")
        return address & 0xFFFFFFFF

    def put(self, array: NDArray[Any]) -> int:
        """Copy an array into the kernel's memory and return its address."""
        address = self.empty(array.shape, array.dtype)
        self.view(address, array.shape, array.dtype)[...] = array
        return address

    def view(self, address: int, shape: int | tuple[int, ...], dtype: DTypeLike) -> NDArray[Any]:
        """Return a numpy view of kernel memory; valid until the next allocation or call that allocates."""
        base = ctypes.addressof(self._memory.data_ptr(self._store).contents)
        count = int(np.prod(shape))
        kind = np.dtype(dtype)
        buffer = (ctypes.c_uint8 * (count * kind.itemsize)).from_address(base + (address & 0xFFFFFFFF))
        array: NDArray[Any] = np.asarray(memoryview(buffer)).view(kind).reshape(shape)
        return array


def load(name: str) -> Kernel:
    """Return a fresh instance of the named kernel (compiled once per process)."""
    return Kernel(name)
