"""Which pin of a controller serves which net."""
