"""Load a kernel and move numpy arrays in and out of its memory."""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
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


@dataclass(frozen=True, eq=False)
class _Instance:
    """One instance of compiled code with a memory of its own."""

    store: wasmtime.Store
    exports: Any
    memory: Any
    functions: dict[str, Any]

    @classmethod
    def of(cls, name: str) -> _Instance:
        store = wasmtime.Store(_engine())
        exports = wasmtime.Instance(store, _module(name), []).exports(store)
        return cls(store, exports, exports["memory"], {})


_spare: dict[str, list[_Instance]] = {}
_reusing = 0


@contextmanager
def reused_memory() -> Iterator[None]:
    """While this lasts, a kernel that is done with leaves its memory to the next one of its name.

    Memory that has been touched need not be got from the system again: a tenth of the time of laying wires.
    A kernel's first call must set all that it keeps between calls, as its C code is not loaded anew.
    """
    global _reusing
    _reusing += 1
    try:
        yield
    finally:
        _reusing -= 1
        if not _reusing:
            _spare.clear()


def give_back(name: str) -> None:
    """Let go of memory that waits for a kernel of this name: none will want it soon."""
    _spare.pop(name, None)


class Kernel:
    """One instance of a kernel with a memory of its own; not to be shared between threads.

    Exported C functions are called by name: ``kernel.call("search", pointer, count)``.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        try:
            self._instance = _spare.get(name, []).pop()
        except IndexError:
            self._instance = _Instance.of(name)
        else:
            self.reset()

    def __del__(self) -> None:
        """Leave the memory to the next kernel, when it may be reused."""
        if _reusing and hasattr(self, "_instance"):
            _spare.setdefault(self._name, []).append(self._instance)

    def call(self, function: str, *arguments: float) -> Any:
        """Call an exported function with plain numbers; returns its number, or None."""
        instance = self._instance
        target = instance.functions.get(function)
        if target is None:
            target = instance.functions[function] = instance.exports[function]
        return target(instance.store, *arguments)

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
        base = ctypes.addressof(self._instance.memory.data_ptr(self._instance.store).contents)
        count = int(np.prod(shape))
        kind = np.dtype(dtype)
        buffer = (ctypes.c_uint8 * (count * kind.itemsize)).from_address(base + (address & 0xFFFFFFFF))
        array: NDArray[Any] = np.asarray(memoryview(buffer)).view(kind).reshape(shape)
        return array


_own = threading.local()


def shared(name: str) -> Kernel:
    """Return the kernel of this name that all callers in a thread share, with what it held forgotten.

    For short questions one after the other: a caller keeps nothing in it.
    """
    kernels: dict[str, Kernel] = _own.__dict__
    if name not in kernels:
        kernels[name] = load(name)
    kernels[name].reset()
    return kernels[name]


def load(name: str) -> Kernel:
    """Return a kernel that no other has in hand (its code is compiled once per process)."""
    return Kernel(name)
