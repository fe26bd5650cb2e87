"""Will it run: one file a subject, each returning an Outcome.

In: a placed and wired train. Out: findings (stop, caution or note) with figure, limit, unit, remedy and
source, and the tables and plots that belong to them. Findings are made nowhere else.

`registry` lists all checks in the order of a report and runs them; `settings` holds their limits. `scene`
and `rays` look at exact solids, `on_curve` stands vehicles on a track. A check searches for nothing: it
reads what planning found.

Begin with `registry.run_checks`.
"""

from fitplan.checks.registry import CHECKS as CHECKS
from fitplan.checks.registry import run_checks as run_checks
from fitplan.checks.registry import run_unplaced_checks as run_unplaced_checks
from fitplan.checks.settings import CheckSettings as CheckSettings
