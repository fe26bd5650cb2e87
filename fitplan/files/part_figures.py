"""One block of a part's electrical figures: one of all kinds that there are, and no contradiction in it."""

from __future__ import annotations

from typing import Self

from pydantic import Field, create_model, model_validator

from fitplan.files.electrical_entries import figures_entry, figures_of
from fitplan.files.electrical_figures import FIGURES
from fitplan.files.entries import Entry
from fitplan.files.fields import InvalidValue, one_of_phrase
from fitplan.model import electrical as model
from fitplan.model.electrical import Electrical


class _ElectricalBase(Entry):
    """One block of figures."""

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [name for name in FIGURES if getattr(self, name) is not None]
        if len(given) != 1:
            found = "no figures" if not given else f"{' and '.join(given)} in one block"
            raise self.lacking(
                found, f"one of {one_of_phrase(FIGURES)}", "a hyphen before each" if given else ""
            )
        key = given[0]
        _check_sense(figures_of(key, getattr(self, key)))
        return self

    def figures(self) -> Electrical:
        """Return the figures."""
        key = next(name for name in FIGURES if getattr(self, name) is not None)
        return figures_of(key, getattr(self, key))


def _check_sense(figures: Electrical) -> None:
    """Refuse figures that contradict each other."""
    match figures:
        case model.Controller(regulator=model.Regulator() as regulator):
            _check_sense(regulator)
        case model.Regulator(in_min_v=least, in_max_v=most) if least > most:
            raise InvalidValue(f"'in min' {least:g} above 'in max' {most:g}", "the least volts first")
        case model.Load(min_v=least, max_v=most) | model.MotorDriver(min_v=least, max_v=most) if least > most:
            raise InvalidValue(f"'min' {least:g} above 'max' {most:g}", "the least volts first")
        case model.Ranger(blind_mm=near, reach_mm=far) if near >= far:
            raise InvalidValue(
                f"'blind' {near:g} not below 'reach' {far:g}", "the nearest distance below the farthest"
            )
        case model.Connector(awg_min=least_number, awg_max=most_number) if least_number > most_number:
            raise InvalidValue(
                f"'awg min' {least_number} above 'awg max' {most_number}", "the smaller AWG number first"
            )
    current, peak = getattr(figures, "current_ma", 0.0), getattr(figures, "peak_ma", None)
    if peak is not None and peak < current:
        raise InvalidValue(
            f"'peak' {peak:g} below 'current' {current:g}", "a peak that is at least the average"
        )


ElectricalEntry: type[_ElectricalBase] = create_model(
    "ElectricalEntry",
    __base__=_ElectricalBase,
    **{key: (figures_entry(key) | None, Field(None, description=FIGURES[key][1])) for key in FIGURES},  # type: ignore[call-overload]
)
"""One block of figures of a part's list ``electrical``."""
