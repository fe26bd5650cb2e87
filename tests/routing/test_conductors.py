"""Wires against ASTM B258, IEC 60028, IEC 60228, the handbook's amps and FAA's worked examples."""

from __future__ import annotations

import pytest

from fitplan.model.copper import awg_area, awg_diameter, awg_ohm_per_m, current_limit, ohm_per_m
from fitplan.routing.harness.conductors import choose_gauge, voltage_drop


@pytest.mark.parametrize(
    ("awg", "diameter", "ohm_km", "amps"),
    [
        (22, 0.6438, 52.96, 0.92),
        (24, 0.5106, 84.21, 0.577),
        (26, 0.4049, 133.9, 0.361),
        (28, 0.3211, 212.9, 0.226),
        (30, 0.2546, 338.6, 0.142),
        (32, 0.2019, 538.3, None),
    ],
)
def test_gauges(awg: int, diameter: float, ohm_km: float, amps: float | None) -> None:
    """Diameter after ASTM B258, resistance after IEC 60028, amps just below the handbook's power column."""
    assert awg_diameter(awg) == pytest.approx(diameter, rel=2e-4)
    assert 1000 * awg_ohm_per_m(awg) == pytest.approx(ohm_km, rel=5e-4)
    if amps is not None:
        assert 0.97 * amps <= current_limit(awg) <= amps


@pytest.mark.parametrize(
    ("ohm_ft", "feet", "amps", "volts"),
    [(0.00044, 107, 20, 0.942), (0.00028, 90, 20, 0.504), (0.00306, 100, 20, 6.12)],
)
def test_faa_worked_examples(ohm_ft: float, feet: float, amps: float, volts: float) -> None:
    """FAA AC 43.13-1B, Table 11-7: drop = resistance per foot × length × current."""
    assert voltage_drop(amps, feet, ohm_ft) == pytest.approx(volts, abs=6e-4)


CLASS_5_OHM_KM = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5}
"""Largest resistance at 20 °C of flexible plain copper conductors, Ω/km by mm² (IEC 60228, class 5)."""


@pytest.mark.parametrize("area", CLASS_5_OHM_KM)
def test_class_5_lies_above_solid_copper(area: float) -> None:
    """IEC 60228 allows class 5 conductors 10 to 15 % more than solid copper of the nominal area has."""
    assert 1.10 < CLASS_5_OHM_KM[area] / (1000 * ohm_per_m(area)) < 1.15


def test_temperature_coefficient() -> None:
    """100 K warmer, copper has 39.3 % more resistance."""
    assert ohm_per_m(1.0, 120.0) / ohm_per_m(1.0) == pytest.approx(1.393)


def test_the_thinnest_gauge_that_keeps_both_limits() -> None:
    """One size thinner breaks a limit, the chosen one keeps both."""
    stock = [22, 24, 26, 28, 30]
    assert choose_gauge(0.2, 0.1, 0.5, stock) == 28  # 30 carries less
    far = choose_gauge(0.2, 3.0, 0.15, stock)
    there_and_back = [
        voltage_drop(0.2, 6.0, awg_ohm_per_m(awg, 40.0, stranded=True)) for awg in (far, far + 2)
    ]
    assert there_and_back[0] <= 0.15 < there_and_back[1]
    assert choose_gauge(0.001, 0.1, 0.1, stock) == 30


def test_when_nothing_in_stock_will_do() -> None:
    """The thickest is returned."""
    assert choose_gauge(3.0, 1.0, 0.05, [28, 26]) == 26
    with pytest.raises(ValueError, match="stock"):
        choose_gauge(1.0, 1.0, 1.0, [])
    with pytest.raises(ValueError, match="at least 0"):
        choose_gauge(-1.0, 1.0, 1.0, [26])


def test_areas() -> None:
    """Three gauges thinner halve the area, nearly (ASTM B258: by 92^(6/39))."""
    assert awg_area(24) / awg_area(27) == pytest.approx(92 ** (6 / 39))
