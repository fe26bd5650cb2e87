"""The independent checker of a written plan; it shares no code with the search."""
