"""One wire: the room around it, its shortest way, pulled taut, with room for its bends."""
