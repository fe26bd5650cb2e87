"""Safety: the cautions that apply, and protection, fuses and room for cells before and after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.safety import TEXTS, check_safety, is_small
from fitplan.files.catalogue import read_catalogue
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack, Fuse
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import box, cells, fuse, need, net, part, shuttle, train, vehicle
from tests.circuit.test_leads import wire

HARNESS = Harness((wire(1, "battery", "cells.plus", "brain.VIN", 100.0, 24),))


def run(made: Train, harness: Harness = HARNESS) -> list[Finding]:
    return list(check_safety(BuiltTrain(made, (), harness, ())).findings)


def picked(findings: list[Finding], severity: str, word: str = "") -> list[Finding]:
    return [one for one in findings if one.severity == severity and word in one.message]


def lithium(protected: bool = True) -> Part:
    return cells(2, "li", 2600.0, 0.06, protected=protected)


def fused(made: Train, one: Part) -> Train:
    nets = [entry for entry in made.nets if entry.name != "battery"]
    nets += [net("battery", "supply", "cells.plus", "fuse.a"), net("fused", "supply", "fuse.b", "brain.raw")]
    return replace(made, needs=(*made.needs, need("fuse", one)), nets=tuple(nets))


@pytest.mark.parametrize("caution", [name for name in TEXTS if name != "small-parts"])
def test_each_caution_applies_where_its_part_is(caution: str) -> None:
    """A part with a caution brings that caution, named; without the part it is not there."""
    risky = replace(part("thing", size=(60, 60, 60)), cautions=(caution,))
    base = shuttle()
    plain = [one for one in base.needs if not one.candidates[0].cautions]
    base = replace(base, needs=tuple(plain))
    with_it = replace(base, needs=(*base.needs, need("thing", risky)))
    (found,) = [one for one in run(with_it) if one.message == TEXTS[caution][0]]
    assert found.where == "thing"
    assert not [one for one in run(base) if one.message == TEXTS[caution][0]]


def test_unprotected_lithium_is_a_stop() -> None:
    """Unprotected lithium cells are a stop, protected ones are none."""
    assert picked(run(shuttle(supply=lithium(False))), "stop", "no protection circuit")
    assert not picked(run(shuttle(supply=lithium())), "stop", "no protection circuit")


def test_a_fuse_sized_to_the_wire() -> None:
    """Lithium cells without a fuse are told which one to fit; that one passes, a larger one does not."""
    bare = shuttle(supply=lithium())
    (caution,) = picked(run(bare), "caution", "a short behind")
    assert caution.figure == pytest.approx(1000 * 8.4 / 0.12)
    hold = float(caution.remedy.split("holds ")[1].split(" mA")[0])
    trip = float(caution.remedy.split("trips at ")[1].split(" mA")[0])
    assert hold >= 73
    assert trip == 3500.0
    right = run(fused(bare, fuse(hold, trip)))
    assert not picked(right, "caution", "fuse")
    assert not picked(right, "caution", "a short behind")
    assert picked(run(fused(bare, fuse(hold, trip * 2))), "caution", "the fuse behind")
    assert picked(run(shuttle(supply=lithium(False))), "stop", "a short behind")


def test_a_fuse_after_a_branch_does_not_count() -> None:
    """A fuse that only one of two branches passes leaves the other unprotected."""
    made = fused(shuttle(supply=lithium()), fuse(200.0, 500.0))
    nets = tuple(
        net("battery", "supply", "cells.plus", "fuse.a", "front eyes.VCC") if one.name == "battery" else one
        for one in made.nets
    )
    assert picked(run(replace(made, nets=nets)), "caution", "a short behind")


@given(st.floats(1.0, 80.0), st.floats(1.0, 80.0), st.floats(1.0, 80.0))
@settings(max_examples=60, deadline=None)
def test_small_parts_cylinder(x: float, y: float, z: float) -> None:
    """What counts as small fits upright into a cylinder of 31.7 × 57.1 mm (EN 71-1), however turned."""
    one = part("thing", size=(x, y, z))
    a, b, c = sorted((x, y, z))
    assert is_small(one) == (math.hypot(a, b) <= 31.7 and c <= 57.1)
    assert is_small(one) == is_small(part("thing", size=(z, x, y)))


def test_a_squeezed_pouch_cell() -> None:
    """A pouch cell under a tight beam is a stop; with room to grow it passes."""
    pouch = replace(
        part(
            "pouch-cell", CellPack("li-ion", "pouch 503450", 1, 1000.0, 0.1, 1000.0, True), size=(50, 30, 5)
        ),
        family="pouch",
    )

    def under(height: float) -> list[Finding]:
        beam = BodySolid(box(60, 8, 19.2 + height, 120, 40, 60), "fixed")
        shape = vehicle(body=(*vehicle().body, beam))
        made = train([need("cell", pouch)], [], [TrainVehicle("v", shape)])
        place = Placement("cell", pouch, "v", Place(pose_named("+x+y+z"), (64.0, 9.0, 19.2)), "body")
        return list(check_safety(BuiltTrain(made, (place,), Harness(), ())).findings)

    (stop,) = picked(under(5.1), "stop", "room across")
    assert stop.figure == pytest.approx(0.1, abs=0.01)
    assert stop.limit == pytest.approx(0.4)
    assert not picked(under(5.5), "stop", "room across")
    assert picked(under(5.5), "note", "room across")


CATALOGUE = read_catalogue()


def charged(pack: str, board: str, *, wired: bool = True, ground: str = "charger.GND") -> Train:
    """A pack of the catalogue, a charging board between it and a controller (or beside it, without "
    "a wire)."""
    needs = [
        need("cells", CATALOGUE[pack]),
        need("charger", CATALOGUE[board]),
        need("brain", CATALOGUE["controller-two-core-3v3"]),
    ]
    if not wired:
        nets = [
            net("ground", "ground", "cells.minus", "brain.GND"),
            net("plus", "supply", "cells.plus", "brain.raw"),
        ]
    else:
        nets = [
            net("cell minus", "ground", "cells.minus", "charger.cellminus"),
            net("cell plus", "supply", "cells.plus", "charger.cell"),
            net("out", "supply", "charger.out", "brain.raw"),
            net("ground", "ground", ground, "brain.GND"),
        ]
    return train(needs, nets, catalogue=CATALOGUE)


@pytest.mark.parametrize(
    ("made", "word"),
    [
        (charged("cells-18650-1", "charger-protected", wired=False), "is not wired between it and the train"),
        (charged("cells-18650-2", "charger-protected", wired=False), "is not wired between it and the train"),
        (charged("cells-18650-2", "charger-protected"), "another number of cells"),
        (charged("cells-18650-1", "charger-protected", ground="cells.minus"), "is bypassed: the minus of"),
    ],
    ids=["unwired", "unwired beside two cells", "for one cell at two", "minus bypassed"],
)
def test_protection_must_be_wired_and_of_the_right_kind(made: Train, word: str) -> None:
    """A charging board protects only where it lies between the cells that it is made for and the train."""
    stops = picked(run(made, Harness()), "stop")
    assert any(word in one.message for one in stops)
    assert not picked(run(charged("cells-18650-1", "charger-protected"), Harness()), "stop", "protect")


def test_a_tap_ahead_of_the_protection_bypasses_it() -> None:
    """A load on the cells' plus beside the charging board draws past its protection."""
    made = charged("cells-18650-1", "charger-protected")
    tap = net("cell plus", "supply", "cells.plus", "charger.cell", "lift.in")
    nets = [tap if one.name == tap.name else one for one in made.nets]
    beside = (need("lift", CATALOGUE["regulator-step-up-5v"]), need("strip", CATALOGUE["lamp-strip"]))
    nets.append(net("five", "supply", "lift.out", "strip.VCC"))
    tapped = replace(made, needs=(*made.needs, *beside), nets=tuple(nets))
    assert picked(run(tapped, Harness()), "stop", "more than it hangs on the plus")


def test_no_remedy_brings_a_board_for_one_cell_to_two() -> None:
    """Advice for cells in series never proposes a board for one cell, and names the number of cells."""
    for board in ("charger-protected", "charger-plain"):
        for wired in (True, False):
            made = charged("cells-18650-2", board, wired=wired)
            for one in picked(run(made, Harness()), "stop", "cells"):
                assert "for one cell between" not in one.remedy
                if one.unit == "circuits":
                    assert "for 2 cells in series" in one.remedy


@pytest.mark.parametrize(
    ("pack", "board", "stopped"),
    [
        ("pouch-402025", "charger-protected", True),  # 1000 mA into 150 mAh
        ("pouch-503035", "charger-protected", True),
        ("pouch-503035", "charger-protected-gentle", False),  # 250 mA into 500 mAh: a half
        ("pouch-402030", "charger-protected-gentlest", False),
        ("cells-18650-1", "charger-protected", False),  # 1000 mA into 2600 mAh
    ],
)
def test_charging_current_against_capacity(pack: str, board: str, stopped: bool) -> None:
    """More than half the capacity in an hour is a stop (common practice); its remedy passes."""
    stops = picked(run(charged(pack, board), Harness()), "stop", "charges with")
    assert bool(stops) == stopped
    if stopped:
        figures = CATALOGUE[pack].figure(CellPack)
        assert figures is not None
        assert stops[0].limit == figures.capacity_mah / 2


def test_a_lithium_charger_at_other_cells() -> None:
    """A charging board for lithium at NiMH or alkaline cells is a stop that says never to connect it."""
    for pack in ("cells-aa-4-stack-nimh", "cells-aaa-1"):
        (stop,) = picked(run(charged(pack, "charger-protected"), Harness()), "stop", "charges 1 li-ion")
        assert "never" in stop.remedy


def test_nimh_packs_carry_their_cautions() -> None:
    """Every NiMH part of the catalogue brings its caution about shorts and charging."""
    packs = [p for p in CATALOGUE.values() if (c := p.figure(CellPack)) is not None and c.chemistry == "nimh"]
    assert len(packs) >= 2
    for pack in packs:
        found = run(train([need("cells", pack)], []), Harness())
        assert any("through a short" in one.message for one in found)


def test_fuses_of_the_catalogue_by_enumeration() -> None:
    """The fuse proposed holds the peak, trips below what the path bears, and soon: tried one by one."""
    for switch_part in ("switch-slide-small", "switch-slide", "switch-rocker"):
        for lamps in (2, 6, 12):
            needs = [need("cells", CATALOGUE["cells-aa-4"]), need("switch", CATALOGUE[switch_part])]
            needs += [need(f"strip {i}", CATALOGUE["lamp-strip"]) for i in range(lamps)]
            joins = [f"strip {i}.VCC" for i in range(lamps)]
            nets = [
                net("raw", "supply", "cells.plus", "switch.a"),
                net("on", "supply", "switch.b", *joins),
            ]
            made = train(needs, nets, catalogue=CATALOGUE)
            (told,) = [one for one in run(made, Harness()) if "a short behind" in one.message]
            peak = 60.0 * lamps
            bears = min(
                {"switch-slide-small": 300, "switch-slide": 1000, "switch-rocker": 3000}[switch_part], 3500
            )
            assert told.limit == bears
            good = sorted(
                (fuse.resistance_ohm * peak > 100, fuse.trip_ma, fuse.resistance_ohm, p.id)
                for p in CATALOGUE.values()
                if (fuse := p.figure(Fuse)) is not None and fuse.hold_ma >= peak and fuse.trip_ma <= bears
            )
            if good:
                cheap = [one for one in good if not one[0]]
                best = cheap[0] if cheap else min(good, key=lambda one: one[2])
                assert f"{best[3]}," in told.remedy
                assert f"{best[2] * peak / 1000:.2f} V" in told.remedy
            elif peak >= bears:
                assert told.remedy.startswith("no fuse fits")
            else:
                assert "the catalogue has none" in told.remedy


def test_a_fuse_that_trips_in_running() -> None:
    """A fuse that holds less than the train's own peak is a stop: it is exchanged, not put beside another."""
    bare = shuttle(supply=lithium())
    (stop,) = picked(run(fused(bare, fuse(100.0, 200.0))), "stop", "trips in running")
    assert stop.remedy.startswith(f"exchange {stop.where} for a fuse that holds")
    assert "add it" not in stop.remedy
    assert not picked(run(fused(bare, fuse(200.0, 400.0))), "stop", "trips in running")
