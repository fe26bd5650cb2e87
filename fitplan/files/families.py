"""What families of parts there are."""

from __future__ import annotations

FAMILIES = (
    "controller", "cells", "pouch", "bank", "regulator", "charger", "ranger", "sensor", "emitter", "lamp",
    "sounder", "driver", "switch", "connector", "wire", "lead", "junction", "servo", "camera",
    "display", "coil",
)  # fmt: skip
"""The families of the catalogue."""
