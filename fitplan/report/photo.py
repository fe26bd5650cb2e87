"""A page that takes measures from a photograph of a side by clicking; it works without a network."""

from __future__ import annotations

from pathlib import Path

_PAGE = Path(__file__).with_name("photo.html")


def photo_page() -> bytes:
    """Return the page, one file with all inside."""
    return _PAGE.read_bytes()
