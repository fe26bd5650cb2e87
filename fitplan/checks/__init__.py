"""Will it run: one file a subject, each returning an Outcome."""

from fitplan.checks.access import check_access as check_access
from fitplan.checks.balance import check_balance as check_balance
from fitplan.checks.curves import check_curves as check_curves
from fitplan.checks.heat import check_heat as check_heat
from fitplan.checks.pins import check_pins as check_pins
from fitplan.checks.registry import CHECKS as CHECKS
from fitplan.checks.registry import Check as Check
from fitplan.checks.registry import run_checks as run_checks
from fitplan.checks.registry import run_unplaced_checks as run_unplaced_checks
from fitplan.checks.safety import check_safety as check_safety
from fitplan.checks.settings import CheckSettings as CheckSettings
from fitplan.checks.stopping import check_stopping as check_stopping
from fitplan.checks.supply import check_supply as check_supply
from fitplan.checks.view import check_view as check_view
from fitplan.checks.wire import check_wire as check_wire
