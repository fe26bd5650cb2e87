"""Will it run: one file a subject, each returning an Outcome."""

from fitplan.checks.registry import CHECKS as CHECKS
from fitplan.checks.registry import Check as Check
from fitplan.checks.registry import run_checks as run_checks
from fitplan.checks.registry import run_unplaced_checks as run_unplaced_checks
