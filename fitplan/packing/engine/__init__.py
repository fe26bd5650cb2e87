"""The exact search and its proofs, in whole numbers: items and obstacles in, places or a proof out."""
