"""Ways in and out: which part comes out by which moves, in which order, past what."""
