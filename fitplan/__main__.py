"""Let ``python -m fitplan`` do what ``fitplan`` does."""

from fitplan.cli import main

if __name__ == "__main__":
    main()
