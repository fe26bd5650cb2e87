"""One mistake of the nets is told once: what follows from it stands in its own sentence, and no stop more."""

from __future__ import annotations

import pytest

from tests.checks.workbench import CASES, Case, findings_of

ONCE = (
    "03g-",
    "06-",
    "05g-",
    "05n-",
    "05o-",
    "07d-",
    "07e-",
    "07f-",
    "10c-",
    "11l-",
    "11m-",
    "11n-",
    "11o-",
    "11p-",
)


@pytest.mark.parametrize(
    "case", [one for one in CASES if one.file.startswith(ONCE)], ids=lambda case: case.file
)
def test_one_mistake_is_one_stop(case: Case) -> None:
    """No consequence is a stop beside its cause."""
    stops = [one.message for one in findings_of(case) if one.severity == "stop"]
    assert len(stops) == 1, stops
    assert case.words in stops[0]
