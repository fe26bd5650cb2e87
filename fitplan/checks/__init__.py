"""Will it run: one file a subject, each returning an Outcome."""
