"""Where parts can go: candidate places, search, proof, rebuild, choice and the way in."""
