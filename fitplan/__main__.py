"""Let ``python -m fitplan`` do what ``fitplan`` does."""

from fitplan.cli import main

main()
