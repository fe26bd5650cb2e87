"""Plan where controllers, sensors, cells and wires go inside brick-built trains.

What a Python user needs is here: `read_train`, `plan_train`, `verify_plan`, `write_plan`, `read_plan` and the
values that they take and return. Each is loaded when it is first used, so that ``import fitplan`` is cheap.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fitplan.surface import (
        ContradictionError,
        Finding,
        FitplanError,
        InputError,
        Placement,
        Plan,
        PlanOptions,
        Report,
        Train,
        Wire,
        plan_train,
        read_plan,
        read_train,
        summary,
        verdict,
        verify_plan,
        write_plan,
    )

__version__ = "0.1.0"

__all__ = [
    "ContradictionError",
    "Finding",
    "FitplanError",
    "InputError",
    "Placement",
    "Plan",
    "PlanOptions",
    "Report",
    "Train",
    "Wire",
    "__version__",
    "plan_train",
    "read_plan",
    "read_train",
    "summary",
    "verdict",
    "verify_plan",
    "write_plan",
]


def __getattr__(name: str) -> Any:
    if name in __all__:
        return getattr(import_module("fitplan.surface"), name)
    raise AttributeError(f"module 'fitplan' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
