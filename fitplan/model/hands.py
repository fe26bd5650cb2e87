"""What a hand is: how far a finger reaches, and what a plug with its cable needs; mm."""

from __future__ import annotations

FINGER_REACH_MM = 70.0
"""How far a finger gets into a vehicle while the hand stays outside: the free length of an adult's index
finger (70 to 75 mm, from memory)."""
CABLE_BEND_MM = 12.0
"""What a plug's cable needs straight behind the plug before it may turn off: a bend of three times a cable of
4 mm, on its middle line (common practice, no source)."""
