"""Leads that parts come with, and leads that run over a coupling: made, cut, joined, stowed; lies are noticed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from fitplan.checks.leads import check_leads
from fitplan.files.catalogue import shipped_parts
