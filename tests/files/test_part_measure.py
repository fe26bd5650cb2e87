"""A board of one's own from a few figures: as measured, and without answers the catalogue's own part."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fitplan.cli import app
from fitplan.errors import FitplanError
from fitplan.files.catalogue import read_catalogue
from fitplan.files.document import parse_document
from fitplan.files.part_file import parts_of
from fitplan.files.part_measure import measured_part, questions
from fitplan.model.part import Part

CATALOGUE = read_catalogue()


def read(text: str) -> Part:
    path = Path("p.yaml")
    return next(part for part, _ in parts_of(parse_document(text, path, []), path, []).values())


@pytest.mark.parametrize(
    "part_id",
    ["controller-compact-5v", "ranger-two-eyed", "regulator-step-up-5v-tiny", "servo-micro"],
)
def test_without_answers_it_is_the_same_part(part_id: str) -> None:
    """Only id, source and what is typical differ."""
    own, old = read(measured_part(part_id, {})), CATALOGUE[part_id]
    assert own.id == f"own-{part_id}"
    assert replace(own, id=old.id, source=old.source, typical=old.typical) == old


def test_figures_are_those_of_the_ruler() -> None:
    """Every figure that is given is found in the part; pins keep their pitch."""
    given = {
        "id": "my-board",
        "L": "52",
        "W": "2 studs 5 mm",
        "T": "1.2",
        "H": "6",
        "D": "2",
        "S": "1.5",
        "P": "6",
    }
    own, old = (
        read(measured_part("controller-compact-5v", {**given, "mass": "7.5"})),
        CATALOGUE["controller-compact-5v"],
    )
    board, whole = own.envelope[0].bounds, own.bounds
    assert board.size == pytest.approx((52.0, 21.0, 1.2))
    assert whole.high == pytest.approx((53.5, 21.0, 7.2))
    assert whole.low == pytest.approx((0.0, 0.0, -2.0))
    assert own.mass_g == 7.5
    rows = {pin.name: pin.at[0] for pin in own.pins if pin.exit == "+z"}
    before = {pin.name: pin.at[0] for pin in old.pins if pin.exit == "+z"}
    assert min(rows.values()) == 6.0
    assert {round(rows[name] - before[name], 6) for name in rows} == {round(6.0 - min(before.values()), 6)}
    assert own.pin("D12").at[1] == old.pin("D12").at[1]
    assert 21.0 - own.pin("D13").at[1] == pytest.approx(18.0 - old.pin("D13").at[1])


@pytest.mark.parametrize(
    ("answers", "told"),
    [
        ({"L": "long"}, "L: found"),
        ({"W": "0"}, "expected a length above 0"),
        ({"mass": "heavy"}, "expected a number"),
        ({"id": "My Board"}, "id: found"),
    ],
)
def test_what_is_no_figure_is_told(answers: dict[str, str], told: str) -> None:
    with pytest.raises(FitplanError, match=told):
        measured_part("controller-compact-5v", answers)


def test_asked_on_the_terminal_with_a_drawing(tmp_path: Path) -> None:
    """Answers come line by line from standard input; what is left out keeps its default."""
    file = tmp_path / "parts" / "mine.yaml"
    lines = "my-board\nMy board\n50\n20\n\n\n\n\n\n\n"
    done = CliRunner().invoke(
        app, ["parts", "measure", "controller-compact-5v", "-o", str(file)], input=lines
    )
    assert done.exit_code == 0, done.output
    own = read(file.read_text("utf-8"))
    assert (own.id, own.name, own.envelope[0].bounds.size[:2]) == ("my-board", "My board", (50.0, 20.0))
    assert "from the right side" in done.stderr
    assert all(one.text in done.stderr for one in questions("controller-compact-5v"))
