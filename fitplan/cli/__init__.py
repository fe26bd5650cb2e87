"""The command line: thin commands that read, call one function and show what came back.

Begin with `frame`, which holds the program and what all commands share; `trains`, `vehicles`, `plans` and
`catalogue` hold the commands by what they are about, `endings` tells how the program ends, and `manual` makes
the manual page out of the commands.
"""

from fitplan.cli import catalogue, plans, trains, vehicles
from fitplan.cli.endings import main
from fitplan.cli.frame import app

__all__ = ["app", "main"]

_EVENING = (
    catalogue.new,
    trains.check,
    trains.write_out,
    trains.fit,
    trains.plan,
    plans.verify,
    plans.judge_readings,
    plans.freeze,
    plans.compare,
    catalogue.parts,
    trains.sweep,
    vehicles.cavities,
    catalogue.schema,
)
"""Commands in the order in which an evening needs them."""
app.registered_commands.sort(key=lambda command: _EVENING.index(command.callback))
