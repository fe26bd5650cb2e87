"""Compiled inner loops: C sources, their WebAssembly, and the one way to call them from numpy.

The search loops of packing and routing are too slow in Python by a factor of fifty to a hundred. They are
written in freestanding C, compiled once by a maintainer (`fitplan.kernels.build`) and shipped as
WebAssembly that runs on every platform through wasmtime, so a user needs no compiler and no per-platform
build.

In: numpy arrays, put into a kernel's memory. Out: arrays, and whether the kernel came to an end or gave
up: every limit of a kernel ends in giving up, never in an answer. Begin with `load.Kernel`.
"""

from fitplan.kernels.load import Kernel as Kernel
from fitplan.kernels.load import give_back as give_back
from fitplan.kernels.load import load as load
from fitplan.kernels.load import reused_memory as reused_memory
from fitplan.kernels.load import shared as shared
