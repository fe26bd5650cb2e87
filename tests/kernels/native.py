"""Kernels compiled for this machine with the address and undefined-behaviour sanitizers, each a process.

Each allocation lies in the lowest 4 GiB between bytes that may not be touched, and so do all arrays of the C
code; a read or write beyond ends the process, and `NativeInstance.call` raises with what the sanitizer said.
"""

from __future__ import annotations

import atexit
import re
import shutil
import struct
import subprocess
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

import fitplan.kernels
from fitplan.kernels.build import COMPILERS

KERNELS = Path(fitplan.kernels.__file__).parent
FLAGS = (
    "-std=c11", "-O1", "-g", "-fno-pie", "-no-pie", "-fno-omit-frame-pointer",
    "-fsanitize=address,undefined", "-fno-sanitize-recover=all",
    "-Wno-int-to-pointer-cast", "-Wno-pointer-to-int-cast", "-Wno-int-to-void-pointer-cast",
    "-Wno-void-pointer-to-int-cast",
)  # fmt: skip
KINDS = {"u32": "u", "i32": "i", "f64": "d", "f32": "d"}
HARNESS = r"""
#define _GNU_SOURCE
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sanitizer/asan_interface.h>
#include "KERNEL.c"

#define ARENA (768u << 20)
#define GAP 64u
static unsigned char *native_arena;
static u32 native_top;

u32 allocate_raw(u32 bytes) {
  u32 size = (bytes + 15u) & ~15u;
  if (size < bytes || size > ARENA || native_top > ARENA - size - GAP) return 0;
  unsigned char *at = native_arena + native_top;
  native_top += size + GAP;
  ASAN_UNPOISON_MEMORY_REGION(at, bytes);
  memset(at, 0xa5, bytes); /* what was there before may be anything */
  return (u32)(uintptr_t)at;
}

u32 allocate(u32 bytes) {
  u32 at = allocate_raw(bytes);
  if (at) memset((void *)(uintptr_t)at, 0, bytes);
  return at;
}

void reset(void) {
  ASAN_POISON_MEMORY_REGION(native_arena, ARENA);
  native_top = GAP;
}

static void get(void *to, size_t bytes) { if (bytes && fread(to, 1, bytes, stdin) != bytes) exit(0); }
static void give(const void *from, size_t bytes) { fwrite(from, 1, bytes, stdout); }

int main(void) {
  int flags = MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE | MAP_32BIT;
  native_arena = mmap(0, ARENA, PROT_READ | PROT_WRITE, flags, -1, 0);
  if (native_arena == MAP_FAILED) { fputs("no memory below 4 GiB\n", stderr); return 3; }
  reset();
  for (;;) {
    u32 head[3];
    get(head, sizeof head);
    if (head[0] == 0) { /* call: which, how many numbers */
      f64 a[32], r = 0;
      get(a, head[2] * sizeof(f64));
      switch (head[1]) {
CASES
        default: fputs("no such function\n", stderr); return 4;
      }
      give(&r, sizeof r);
    } else if (head[0] == 1) { /* read: address, bytes */
      give((const void *)(uintptr_t)head[1], head[2]);
    } else { /* write: address, bytes */
      unsigned char *into = malloc(head[2]);
      get(into, head[2]);
      memcpy((void *)(uintptr_t)head[1], into, head[2]);
      free(into);
    }
    fflush(stdout);
  }
}
"""


@cache
def why_not() -> str:
    """Return why kernels cannot be run natively here; empty when they can."""
    found = next((name for name in COMPILERS if shutil.which(name)), "")
    if not found:
        return "clang is not installed"
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "try.c"
        source.write_text("int main(void) { return 0; }\n", encoding="ascii")
        made = Path(folder) / "try"
        run = subprocess.run([found, *FLAGS, "-o", made, source], capture_output=True, check=False)
        if run.returncode or subprocess.run([made], capture_output=True, check=False).returncode:
            return "clang has no sanitizers here (Debian: libclang-rt-14-dev)"
    return ""


@cache
def functions(name: str) -> dict[str, tuple[int, str, tuple[str, ...]]]:
    """Return the exported C functions of a kernel: number, type of the result, types of the arguments."""
    header = "u32 allocate(u32 bytes)\nu32 allocate_raw(u32 bytes)\nvoid reset(void)\nf64 steps_taken(void)\n"
    source = (KERNELS / f"{name}.c").read_text(encoding="utf-8")
    limits = "".join(f"void limit_{one}(i32 value)\n" for one in re.findall(r"^LIMIT\((\w+),", source, re.M))
    exported = re.findall(r"^EXPORT\(\w+\)\s+([a-z0-9]+\s+\w+\([^)]*\))", source, re.M)
    found: dict[str, tuple[int, str, tuple[str, ...]]] = {}
    for text in [*header.splitlines(), *limits.splitlines(), *exported]:
        match = re.match(r"(\w+)\s+(\w+)\(([^)]*)\)", text)
        assert match is not None
        kinds = tuple(one.split()[0] for one in match[3].split(",") if one.strip() != "void")
        found[match[2]] = (len(found), match[1], kinds)
    return found


@cache
def _folder() -> Path:
    """Return the folder that the programs of this run are in; it goes when the run ends."""
    folder = Path(tempfile.mkdtemp(prefix="fitplan-native-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


@cache
def program(name: str) -> Path:
    """Compile a kernel for this machine and return the program."""
    folder = _folder()
    cases = []
    for function, (number, result, kinds) in functions(name).items():
        given = ", ".join(
            f"(f64)a[{k}]" if kind[0] == "f" else f"({kind})(i64)a[{k}]" for k, kind in enumerate(kinds)
        )
        left = "" if result == "void" else "r = (f64)"
        cases.append(f"        case {number}: {left}{function}({given}); break;")
    text = HARNESS.replace("KERNEL.c", str(KERNELS / f"{name}.c")).replace("CASES", "\n".join(cases))
    source, made = folder / f"{name}_native.c", folder / name
    source.write_text(text, encoding="utf-8")
    compiler = next(one for one in COMPILERS if shutil.which(one))
    subprocess.run([compiler, *FLAGS, "-o", made, source], check=True)
    return made


class NativeInstance:
    """A kernel in a process of its own, behind the interface of an instance in WebAssembly.

    Arrays that look at its memory are copies: what is written into them goes there before the next call, and
    what a call has changed comes back after it.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self._functions = functions(name)
        self._process = subprocess.Popen(
            [program(name)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        self._looks: list[tuple[int, NDArray[Any]]] = []

    @classmethod
    def of(cls, name: str) -> NativeInstance:
        """Return a fresh instance."""
        return cls(name)

    def __del__(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.communicate()

    @property
    def watched(self) -> bool:
        """Memory is never handed on."""
        return True

    def call(self, function: str, arguments: tuple[float, ...]) -> Any:
        """Call an exported function; AssertionError with the sanitizer's words when it breaks a rule."""
        for address, array in self._looks:
            self._send(2, address, array.nbytes, array.tobytes())
        number, result, kinds = self._functions[function]
        assert len(arguments) == len(kinds), function
        packed = struct.pack(f"{len(arguments)}d", *(float(one) for one in arguments))
        self._send(0, number, len(arguments), packed)
        (answer,) = struct.unpack("d", self._receive(8, function))
        if function == "reset":
            self._looks.clear()
        for address, array in self._looks:
            self._send(1, address, array.nbytes, b"")
            array.reshape(-1).view(np.uint8)[...] = np.frombuffer(
                self._receive(array.nbytes, function), np.uint8
            )
        if result == "void":
            return None
        if result[0] == "f":
            return answer
        whole = int(answer)
        return whole - (1 << 32) if whole >= 1 << 31 else whole

    def view(self, address: int, shape: int | tuple[int, ...], dtype: DTypeLike) -> NDArray[Any]:
        """Return an array that is kept the same as the memory."""
        array: NDArray[Any] = np.zeros(shape, dtype)
        if array.nbytes:
            for place, known in self._looks:
                self._send(2, place, known.nbytes, known.tobytes())
            self._send(1, address, array.nbytes, b"")
            array.reshape(-1).view(np.uint8)[...] = np.frombuffer(
                self._receive(array.nbytes, "view"), np.uint8
            )
            self._looks = [(place, known) for place, known in self._looks if place != address]
            self._looks.append((address, array))
        return array

    def _send(self, what: int, one: int, two: int, content: bytes) -> None:
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(struct.pack("III", what, one, two) + content)
            self._process.stdin.flush()
        except BrokenPipeError:
            self._receive(1, "write")

    def _receive(self, size: int, function: str) -> bytes:
        assert self._process.stdout is not None
        content = self._process.stdout.read(size)
        if len(content) < size:
            assert self._process.stderr is not None
            said = self._process.stderr.read().decode(errors="replace")
            raise AssertionError(f"{self.name}.{function}: {said[:4000]}")
        return content
