"""Will it run: one file a subject, each returning an Outcome.

In: a placed and wired train. Out: findings (stop, caution or note) with figure, limit, unit, remedy and
source, and the tables and plots that belong to them. Findings are made nowhere else.

`registry` lists all checks in the order of a report and runs them; `settings` holds their limits. `scene`
and `rays` look at exact solids, `on_curve` stands vehicles on a track. A check searches for nothing: it
reads what planning found.

Begin with `registry.run_checks`.
"""

from fitplan.checks.access import check_access as check_access
from fitplan.checks.balance import check_balance as check_balance
from fitplan.checks.curves import check_curves as check_curves
from fitplan.checks.heat import check_heat as check_heat
from fitplan.checks.nets import check_nets as check_nets
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
from fitplan.checks.wiring import check_wiring as check_wiring
