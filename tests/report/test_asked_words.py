"""How a figure of a finding is held against its limit on the page."""

from __future__ import annotations

import pytest

from fitplan.model.found import Finding, Severity
from fitplan.report.page.findings import asked_words


@pytest.mark.parametrize(
    ("severity", "figure", "remedy", "words"),
    [
        ("stop", 3.0, "move it", "must be at most"),
        ("caution", 1.0, "move it", "must be at least"),
        ("stop", 2.0, "move it", "just the limit of"),
        ("note", 3.0, "nothing to do", "is at least"),
        ("note", 1.0, "nothing to do; check again", "is at most"),
        ("note", 1.0, "bend them once", "against"),
        ("note", 3.0, "bend them once", "against"),
    ],
)
def test_a_note_that_asks_for_something_does_not_say_that_all_is_well(
    severity: Severity, figure: float, remedy: str, words: str
) -> None:
    """Against a limit of 2: what is wrong says what must be, what holds what is, what asks neither."""
    found = Finding("wiring", severity, "wire 1", "turns close", figure, 2.0, "mm", remedy, "invented")
    assert asked_words(found) == words
