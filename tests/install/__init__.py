"""fitplan installed as users install it: clean environments, lowest versions, other Pythons and systems."""
