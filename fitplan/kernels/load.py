"""Load a kernel and move numpy arrays in and out of its memory."""

from __future__ import annotations

import atexit
import ctypes
import math
import mmap
import os
import sys
import threading
import weakref
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from importlib import import_module, resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from fitplan.errors import FitplanError

RESERVE = 1 << 32
"""Bytes of address space for a kernel, of which it touches what it needs; its memory never moves."""
SMALL_RESERVE = 64 << 20
"""Bytes of address space for a kernel where a limit does not leave it 4 GiB; its memory moves as it grows."""
_TO_COMPILE = 32 << 20
"""Bytes that compiling a kernel may ask for: 5 MB were measured, and the runtime ends a process without."""


@cache
def _runtime() -> Any:
    """Return the runtime that the kernels need.

    Raises
    ------
    FitplanError
        When it cannot be loaded here.
    """
    try:
        return import_module("wasmtime")
    except (ImportError, OSError, RuntimeError, AttributeError) as error:
        raise FitplanError(
            "the library wasmtime, which runs fitplan's inner loops, cannot be loaded on this system: "
            f"{error or type(error).__name__}; the README names the systems that have it"
        ) from None


@cache
def _engine(small: bool) -> Any:
    """Return the engine: with 4 GiB of address space for each memory, which never moves, or with little."""
    runtime = _runtime()
    config = runtime.Config()
    if small:
        config.memory_reservation = SMALL_RESERVE
        config.memory_guard_size = 1 << 16
        config.memory_reservation_for_growth = SMALL_RESERVE
    else:
        config.memory_reservation = RESERVE
        config.memory_may_move = False
    if _address_space_is_limited():
        # What is kept is looked after by a thread, and more compile: one that cannot begin ends the process.
        config.parallel_compilation = False
    elif _has_cache_folder():
        # Compiling takes 0.2 s in each process, and code that is found there 0.01.
        with suppress(runtime.WasmtimeError):
            config.cache = True
    return runtime.Engine(config)


def _address_space_is_limited() -> bool:
    """Return whether this process may run out of address space before the machine does."""
    return _address_space() < math.inf


def _address_space() -> float:
    """Return how much address space this process may take, in bytes; infinite where nothing limits it."""
    try:
        import resource
    except ImportError:  # no limits but the machine's own
        return math.inf
    most = resource.getrlimit(resource.RLIMIT_AS)[0]
    return math.inf if most == resource.RLIM_INFINITY else most


def _address_space_left() -> float:
    """Return how much more of it may be taken; infinite where no limit, or what is taken, is known."""
    most = _address_space()
    try:
        taken = Path("/proc/self/statm").read_text(encoding="ascii").split()[0]
    except OSError:
        return math.inf
    return most - int(taken) * mmap.PAGESIZE


def _has_cache_folder() -> bool:
    """Return whether the user has a folder for what is kept only to save time; none is made for it."""
    if sys.platform in ("win32", "darwin"):
        return True  # part of the system there
    told = os.environ.get("XDG_CACHE_HOME")
    try:
        folder = Path(told) if told else Path.home() / ".cache"
        return folder.is_absolute() and folder.is_dir()
    except (OSError, RuntimeError):  # nobody's home is known, or it may not be looked into
        return False


@cache
def _module(name: str, small: bool) -> Any:
    code = (resources.files("fitplan.kernels") / f"{name}.wasm").read_bytes()
    return _runtime().Module(_engine(small), code)


def compiled(name: str) -> Any:
    """Return a kernel's code, compiled for this machine once, or once in a process without a cache folder.

    Raises
    ------
    FitplanError
        When the runtime cannot be loaded.
    """
    return _module(name, False)


class _Function:
    """An exported function, called straight through the runtime's C interface.

    The runtime's own `Func` asks for its type at each call: that takes longer than most that is called.
    """

    def __init__(self, store: Any, function: Any) -> None:
        runtime, self._ffi = _runtime(), import_module("wasmtime._ffi")
        self._store, self._function = store, function
        kind = function.type(store)
        self._taken, self._given = (
            (self._ffi.wasmtime_val_t * len(types))() for types in (kind.params, kind.results)
        )
        codes = {
            str(getattr(runtime.ValType, name)()): (name, getattr(self._ffi, f"WASMTIME_{name.upper()}"))
            for name in ("i32", "i64", "f32", "f64")
        }
        self._slots = []
        for value, one in zip(self._taken, kind.params, strict=True):
            name, code = codes[str(one)]
            value.kind = code.value
            self._slots.append((value.of, name))
        self._result = [
            (value.of, codes[str(one)][0]) for value, one in zip(self._given, kind.results, strict=True)
        ]
        self._trap = ctypes.POINTER(self._ffi.wasm_trap_t)()
        # All that is the same at each call; asking the store for its context is a call of its own.
        self._given_always = (
            store._context(), ctypes.byref(function._func), self._taken, len(self._taken), self._given,
            len(self._given), ctypes.byref(self._trap),
        )  # fmt: skip

    def __call__(self, arguments: tuple[float, ...]) -> Any:
        """Call it with plain numbers; returns its number, or None."""
        for (slot, name), argument in zip(self._slots, arguments, strict=True):
            setattr(slot, name, argument)
        error = self._ffi.wasmtime_func_call(*self._given_always)
        if error:
            raise _runtime().WasmtimeError._from_ptr(error)
        if self._trap:
            trap, self._trap = self._trap, ctypes.POINTER(self._ffi.wasm_trap_t)()
            self._given_always = (*self._given_always[:-1], ctypes.byref(self._trap))
            raise _runtime().Trap._from_ptr(trap)
        return getattr(*self._result[0]) if self._result else None


_living: weakref.WeakSet[_Instance] = weakref.WeakSet()


class _Instance:
    """One instance of compiled code with a memory of its own.

    Arrays that look at the memory keep it alive.
    """

    def __init__(self, name: str, small: bool) -> None:
        runtime = _runtime()
        self._small = small
        self._store = runtime.Store(_engine(small))
        self._exports = runtime.Instance(self._store, _module(name, small), []).exports(self._store)
        self._memory = self._exports["memory"]
        self._functions: dict[str, _Function] = {}
        self._base, self._looks = 0, list[weakref.ref[Any]]()
        _living.add(self)

    def close(self) -> None:
        """Let go of all that belongs to the runtime."""
        self._functions.clear()
        self._store = self._exports = self._memory = None

    def ask_whether_open(self) -> None:
        """Raise ValueError where the store is closed: functions that know its context ask no more."""
        self._store._context()

    @classmethod
    def of(cls, name: str) -> _Instance:
        """Return a fresh instance; with little address space where more is not to be had.

        Raises
        ------
        FitplanError
            When there is not even that.
        """
        runtime = _runtime()
        left = _address_space_left()
        with suppress(runtime.WasmtimeError):  # a limit on the address space, most likely
            if left > RESERVE:
                return cls(name, small=False)
        why = f"{max(left, 0.0) / (1 << 20):.0f} MB are left"
        if left >= SMALL_RESERVE + _TO_COMPILE:
            try:
                return cls(name, small=True)
            except runtime.WasmtimeError as error:
                why = str(error).splitlines()[0]
        raise FitplanError(
            "there is not enough address space for fitplan's inner loops: each needs "
            f"{SMALL_RESERVE >> 20} MB at least and runs faster with 4 GiB; raise the limit (ulimit -v): "
            f"{why}"
        )

    def call(self, function: str, arguments: tuple[float, ...]) -> Any:
        """Call an exported function."""
        target = self._functions.get(function)
        if target is None:
            target = self._functions[function] = _Function(self._store, self._exports[function])
        result = target(arguments)
        if self._small and self.watched and self._address() != self._base:
            raise RuntimeError(f"{function}: the memory moved while an array still looked at it")
        return result

    def view(self, address: int, shape: int | tuple[int, ...], dtype: DTypeLike) -> NDArray[Any]:
        """Return an array that looks at the memory."""
        whole = self._looks[-1]() if self._looks else None
        if whole is None or len(whole) < self._memory.data_len(self._store):
            self._base = self._address()
            whole = (ctypes.c_uint8 * self._memory.data_len(self._store)).from_address(self._base)
            whole.instance = self
            self._looks = [look for look in self._looks if look() is not None] + [weakref.ref(whole)]
        try:
            return np.ndarray(shape, dtype, buffer=whole, offset=address)
        except TypeError:
            size = len(whole)
            raise ValueError(
                f"an array of shape {shape} at {address} lies beyond the kernel's memory of {size} bytes"
            ) from None

    @property
    def watched(self) -> bool:
        """Whether an array still looks at the memory."""
        return any(look() is not None for look in self._looks)

    def _address(self) -> int:
        return ctypes.addressof(self._memory.data_ptr(self._store).contents)


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
            self._instance.ask_whether_open()
            self.reset()
        except (IndexError, ValueError):
            # None is at hand, or one from a kernel in a cycle, whose store the collector closed as well.
            self._instance = _Instance.of(name)

    def __del__(self) -> None:
        """Leave the memory to the next kernel, when it may be reused and no array looks at it any more."""
        if _reusing and hasattr(self, "_instance") and not self._instance.watched:
            _spare.setdefault(self._name, []).append(self._instance)

    def call(self, function: str, *arguments: float) -> Any:
        """Call an exported function with plain numbers; returns its number, or None."""
        return self._instance.call(function, arguments)

    @property
    def steps(self) -> int:
        """Steps that the kernel's inner loops have taken since its code was loaded."""
        return int(self.call("steps_taken"))

    def reset(self) -> None:
        """Forget all arrays that were allocated."""
        self.call("reset")

    def empty(self, shape: int | tuple[int, ...], dtype: DTypeLike, *, zeroed: bool = True) -> int:
        """Allocate an array in the kernel's memory and return its address.

        Parameters
        ----------
        zeroed
            Whether it must be all zero; a large one that is filled bit by bit need not be.

        Raises
        ------
        MemoryError
            When the kernel's 4 GiB of memory cannot hold it.
        """
        size = int(shape if isinstance(shape, int) else math.prod(shape)) * np.dtype(dtype).itemsize
        function = "allocate" if zeroed else "allocate_raw"
        address = int(self.call(function, max(size, 1))) if size < 1 << 32 else 0
        if address == 0:
            raise MemoryError(f"the kernel cannot hold another {size} bytes")
        return address & 0xFFFFFFFF

    def put(self, array: NDArray[Any]) -> int:
        """Copy an array into the kernel's memory and return its address."""
        address = self.empty(array.shape, array.dtype, zeroed=False)
        self.view(address, array.shape, array.dtype)[...] = array
        return address

    def view(self, address: int, shape: int | tuple[int, ...], dtype: DTypeLike) -> NDArray[Any]:
        """Return a numpy view of kernel memory; valid until the next allocation or call that allocates.

        The view keeps the memory alive, so what is read later may be stale, but never foreign.

        Raises
        ------
        ValueError
            When it would reach beyond the memory.
        """
        return self._instance.view(address & 0xFFFFFFFF, shape, dtype)


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


@atexit.register
def _let_go() -> None:
    """Let go of all kernels while the runtime, which was loaded after this module, is still whole."""
    _own.__dict__.clear()
    _spare.clear()
    for instance in list(_living):  # of a kernel that somebody holds for good; not while an array looks at it
        if not instance.watched:
            instance.close()
    _module.cache_clear()
    _engine.cache_clear()
