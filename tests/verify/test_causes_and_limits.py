"""What is wrong with a circuit: what follows from a cause that is told, how many volts are too many."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.found import Finding
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.verify.switched_on import check_switched_on
from tests.circuit.sample_parts import STEP_UP_5V, board, cells, net, ranger, step_up

from .lies import problems
from .test_volts_inside import built

EYE = replace(
    ranger(),
    pins=tuple(replace(pin, optional=True) if pin.name in ("TRIG", "ECHO") else pin for pin in ranger().pins),
)


def wrong(
    parts: dict[str, Part], nets: list[Net], *stops: str, severity: str = "stop", subject: str = "nets"
) -> list[tuple[str, str]]:
    """Where and what of all that no stop tells; each stop names one place."""
    told = tuple(
        Finding(subject, severity, where, "is wrong", 0.0, 0.0, "V", "mend it", "sum")  # type: ignore[arg-type]
        for where in stops
    )
    ending = ", and no stop says so"
    found = problems(check_switched_on, built(parts, nets), told)
    assert all(one.message.endswith(ending) for one in found)
    return [(one.where, one.message.removesuffix(ending)) for one in found]


LIFT = step_up(replace(STEP_UP_5V, kind="step-up-down", in_max_v=9.0))
ONE = {"cells": cells(), "lift": LIFT, "eye": EYE, "other": EYE}
NETS = [
    net("ground", "ground", "cells.minus", "eye.GND", "other.GND"),
    net("a", "supply", "cells.plus", "lift.in"),
    net("five", "supply", "lift.out", "eye.VCC"),
]


def test_what_hangs_behind_a_regulator_that_is_told_follows_from_it() -> None:
    """Its ground is open: what it feeds gets nothing, the cells feed nothing; the other is another thing."""
    other = ("other", "is fed by nothing")
    assert wrong(ONE, NETS) == [
        ("lift", "has no ground"),
        ("cells", "feeds nothing"),
        ("eye", "is fed by nothing"),
        other,
        ("five", "is given no volts"),
    ]
    assert wrong(ONE, NETS, "lift") == [other]
    assert wrong(ONE, NETS, "lift", "other") == []
    # A finding that is no stop, or of another subject, tells nothing.
    assert len(wrong(ONE, NETS, "lift", severity="caution")) == 5
    assert len(wrong(ONE, NETS, "lift", subject="heat")) == 5
    # That the eye gets nothing is no cause of what is wrong with the regulator.
    assert ("lift", "has no ground") in wrong(ONE, NETS, "eye")
    assert ("cells", "feeds nothing") in wrong(ONE, NETS, "eye")


def test_what_follows_goes_on_over_regulators() -> None:
    """Two in a row, the first of them wrong; cells that lead to neither feed nothing by themselves."""
    parts = {**ONE, "more": LIFT, "spare": cells()}
    del parts["other"]
    nets = [
        net("ground", "ground", "cells.minus", "spare.minus", "eye.GND", "more.GND"),
        net("a", "supply", "cells.plus", "lift.in"),
        net("mid", "supply", "lift.out", "more.in"),
        net("five", "supply", "more.out", "eye.VCC"),
    ]
    assert wrong(parts, nets, "lift") == [("spare", "feeds nothing")]
    assert len(wrong(parts, nets)) == 6
    # The second is wrong: the cells lead to it by way of the first.
    turned = [
        net("ground", "ground", "cells.minus", "spare.minus", "eye.GND", "lift.GND"),
        *nets[1:],
    ]
    assert ("more", "has no ground") in wrong(parts, turned)
    assert wrong(parts, turned, "more") == [("spare", "feeds nothing")]


def test_of_two_sources_on_one_conductor_only_that_is_said() -> None:
    """The weaker of the two feeds nothing, too: once they are apart it is said of one that does."""
    parts = {"cells": cells(), "spare": cells(), "eye": replace(EYE, electrical=EYE.electrical)}
    nets = [
        net("ground", "ground", "cells.minus", "spare.minus", "eye.GND"),
        net("a", "supply", "cells.plus", "spare.plus", "eye.VCC"),
    ]
    both = wrong(parts, nets)
    assert both[0] == ("cells and spare", "give volts to one conductor")
    assert [where for where, _ in both] == ["cells and spare", "eye.VCC"]
    apart = [nets[0], net("a", "supply", "cells.plus", "eye.VCC")]
    assert ("spare", "feeds nothing") in wrong(parts, apart)


@pytest.mark.parametrize(
    ("limit", "told"), [(6.66, True), (6.69, True), (6.705, False), (6.8, False), (0.0, True)]
)
def test_a_fiftieth_of_a_volt_is_no_matter(limit: float, told: bool) -> None:
    """Four fresh cells of 1.68 V give 6.72; without a limit of its own it bears its range, up to 5.5 V."""
    load = next(one for one in EYE.electrical if hasattr(one, "limit_v"))
    figures = tuple(replace(one, limit_v=limit) if one is load else one for one in EYE.electrical)
    parts = {"cells": cells(), "eye": replace(EYE, electrical=figures)}
    nets = [net("ground", "ground", "cells.minus", "eye.GND"), net("a", "supply", "cells.plus", "eye.VCC")]
    words = f"gets 6.72 V and bears {max(limit, 5.5):g} V"
    assert wrong(parts, nets) == ([("eye.VCC", words)] if told else [])


def test_without_a_ground_no_volts_are_told() -> None:
    """What it gets is not known then: that its ground is open is said instead."""
    parts = {"cells": cells(), "eye": EYE}
    nets = [net("a", "supply", "cells.plus", "eye.VCC")]
    found = wrong(parts, nets)
    assert ("eye", "has no ground") in found
    assert not any("gets" in message for _, message in found)


def test_a_part_whose_pin_is_still_to_be_chosen_is_in_a_net() -> None:
    """It has no ground, as is said; a part that no net names is in none."""
    parts = {"cells": cells(), "board": board(), "eye": EYE, "spare": EYE}
    nets = [net("echo", "signal", "board.*", "eye.ECHO")]
    found = wrong(parts, nets)
    assert ("spare", "is in no net") in found
    assert ("cells", "is in no net") in found
    assert ("board", "has no ground") in found
    assert ("board", "is in no net") not in found
