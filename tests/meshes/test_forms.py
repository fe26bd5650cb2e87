"""Body forms by the ruler."""

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from fitplan.cli import app
from fitplan.errors import FitplanError
from fitplan.files.read import read_vehicle
from fitplan.lattice.space import VehicleSpace
from fitplan.meshes.cavities import cavities_of
from fitplan.meshes.forms import FORMS, form_named, measure
from fitplan.meshes.vehicle_text import vehicle_yaml
from fitplan.packing.access.openings import open_directions


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_every_form_reads_back(form, tmp_path):
    """A form with its defaults has a cavity, and its text reads back as the same vehicle."""
    vehicle = measure(form, name="Try")
    path = tmp_path / "v.yaml"
    path.write_text(vehicle_yaml(vehicle, ["measured by hand"]), encoding="utf-8")
    assert read_vehicle(path) == vehicle
    assert cavities_of(vehicle)
    assert vehicle.kind == form.kind


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_every_roof_lies_on_a_cavity(form):
    """Under each opening there is free space, and its top reaches the outside."""
    vehicle = measure(form, studded=False)
    space = VehicleSpace.of(vehicle)
    frame = space.frame
    if form.name in ("open wagon", "flat wagon"):
        assert "+z" in open_directions(vehicle)
        return
    assert vehicle.openings
    for opening in vehicle.openings:
        middle = opening.box.center
        below = frame.index_of((middle[0], middle[1], opening.box.low[2] - 0.4))
        above = frame.index_of((middle[0], middle[1], opening.box.high[2] + 0.4))
        assert space.free()[below]
        assert not space.solid()[above]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_every_port_joins_inside_and_outside(form):
    """A wire that enters through a port comes to free space: the port's room touches it."""
    vehicle = measure(form)
    space = VehicleSpace.of(vehicle)
    for port in vehicle.ports:
        window = space.frame.box_slice(port.box, "inward")
        assert space.wire_free()[window].all()
        side = 1 if port.out == "-x" else -1
        edge = window[0].stop if side > 0 else window[0].start - 1
        beyond = space.free()[edge, window[1], window[2]]
        assert (beyond | space.free()[window].any(axis=0)).any()


def test_volumes_follow_the_answers():
    """The hall of a box wagon is (long − 2) × (wide − 2) studs by the walls' height; two wire holes."""
    vehicle = measure("box wagon", {"long": 15, "wide": 7, "walls": 9}, studded=False)
    (cavity,) = cavities_of(vehicle)
    assert cavity.volume_mm3 == pytest.approx(13 * 5 * 64 * 9 * 3.2 + 2 * 4.8 * 4.8 * 8)


def test_measured_vehicles_run_coupled(tmp_path):
    """Taken as they come, a loco and wagons pass each other in a common curve, and wires find their holes."""
    names = ["cab loco", "box wagon", "open wagon", "flat wagon", "tank wagon", "hood loco"]
    for name in names:
        path = str(tmp_path / f"{name}.yaml")
        made = CliRunner().invoke(app, ["vehicle", "measure", name, "--defaults", "-o", path])
        assert made.exit_code == 0
    rows = "".join(f"  - {{name: {name}, file: {name}.yaml}}\n" for name in names)
    track = "track: {radius: 40 studs}\nrunning: {speed: 200, push pull: no}\n"
    needs = "needs: [{name: lamp, part: lamp-3mm}]\n"
    (tmp_path / "train.yaml").write_text(f"train: T\nvehicles:\n{rows}{needs}{track}", "utf-8")
    told = json.loads(CliRunner().invoke(app, ["check", str(tmp_path), "--json"]).stdout)
    findings = [one for outcome in told["outcomes"] for one in outcome["findings"]]
    assert findings
    assert not [one for one in findings if one["subject"] in ("curves", "gaps") and one["severity"] != "note"]


def test_a_barrel_is_round():
    """The tank's hollow is a cylinder: its volume lies between the two roundings."""
    vehicle = measure("tank wagon", {"long": 20, "diameter": 44, "wall": 3}, studded=False)
    space = VehicleSpace.of(vehicle)
    volume = np.pi * 19**2 * 18 * 8
    assert space.free().sum() * 0.8**3 < volume < space.free("inward").sum() * 0.8**3


def test_wrong_answers_are_told():
    """An unknown form or key, an answer out of range, or two that do not go together, is a clear error."""
    with pytest.raises(FitplanError, match="did you mean 'boiler loco'"):
        measure("boiler-loco")
    with pytest.raises(FitplanError, match="did you mean 'wide'"):
        measure("box wagon", {"width": 6})
    with pytest.raises(FitplanError, match="found long 90 studs; expected 6 to 64"):
        measure("box wagon", {"long": 90})
    with pytest.raises(FitplanError, match="at most 12 together"):
        measure("hood loco", {"long": 12})
    with pytest.raises(FitplanError, match="expected a diameter of at most 48 mm"):
        measure("tank wagon", {"diameter": 60})
    with pytest.raises(FitplanError, match="so that a boiler is left"):
        measure("boiler loco", {"long": 8})


def test_questions_have_sensible_defaults():
    """Each default lies in its own range and each form is found by its name."""
    for form in FORMS:
        assert form_named(form.name) is form
        for question in form.questions:
            assert question.least <= question.default <= question.most
