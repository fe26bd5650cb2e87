"""Reading what users write, with line numbers in every error, and writing whole or not at all."""
