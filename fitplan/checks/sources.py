"""Where limits come from, for findings that say no more than that."""

from __future__ import annotations

PRACTICE = "common practice, no source"
PART = "the part's own figures"
BOARD = "the board's own figures"
TRAIN_FILE = "the train file"
