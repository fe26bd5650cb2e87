"""The settings of all checks together; each stands, with its defaults and their sources, beside its check."""

from __future__ import annotations

from dataclasses import dataclass, field

from fitplan.checks.balance import BalanceSettings
from fitplan.checks.curve_settings import CurveSettings
from fitplan.checks.heat import HeatSettings
from fitplan.checks.pin_levels import PinSettings
from fitplan.checks.safety import SafetySettings
from fitplan.checks.stopping import StoppingSettings
from fitplan.checks.supply_limits import SupplySettings
from fitplan.checks.support import SupportSettings
from fitplan.checks.view import ViewSettings
from fitplan.checks.wire import WireSettings


@dataclass(frozen=True)
class CheckSettings:
    """One settings value for each check, by its subject."""

    pins: PinSettings = field(default_factory=PinSettings)
    supply: SupplySettings = field(default_factory=SupplySettings)
    heat: HeatSettings = field(default_factory=HeatSettings)
    view: ViewSettings = field(default_factory=ViewSettings)
    stopping: StoppingSettings = field(default_factory=StoppingSettings)
    curves: CurveSettings = field(default_factory=CurveSettings)
    balance: BalanceSettings = field(default_factory=BalanceSettings)
    support: SupportSettings = field(default_factory=SupportSettings)
    wire: WireSettings = field(default_factory=WireSettings)
    safety: SafetySettings = field(default_factory=SafetySettings)


DEFAULTS = CheckSettings()
