"""Every kernel compiled: to be loaded by a process that has nothing else to do yet."""

from __future__ import annotations

from importlib import resources

from fitplan.kernels.load import compiled

for _file in resources.files("fitplan.kernels").iterdir():
    if _file.name.endswith(".wasm"):
        compiled(_file.name.removesuffix(".wasm"))
