"""The track that a train runs on, and how it runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Track:
    """The sharpest curve (radius to the middle of the track), gradient and clearances, in mm and per cent."""

    radius: float
    reverse_curve: bool = False
    gradient_percent: float = 0.0
    gauge: float = 38.0
    structure_half_width: float = 40.0
    """Clear half width beside the track's middle line on straight track."""
    structure_height: float = 120.0
    adhesion: float = 0.25
    """Most pull or brake of a driven wheel over its load: steel on dry steel (Koffman, 1948)."""
    least_straight: float = 128.0
    """Shortest straight between curves of opposite hand, where no reverse curve is allowed (mm): one piece of
    common straight track, 16 studs (common practice, no source)."""


@dataclass(frozen=True)
class Running:
    """How the train runs: mm/s, mm/s², seconds, °C."""

    speed: float
    deceleration: float = 600.0
    reading_interval_s: float = 0.1
    command_delay_s: float = 0.15
    temperature_c: float = 20.0
    trip_distance: float = 0.0
    """Distance at which the user's program stops; 0: to be proposed."""
    margin: float = 20.0
    hours: float = 2.0
    push_pull: bool | None = None
    """Whether it runs both ways; None: that is not said."""
    reads: Literal["front", "alternating", "all"] = "front"
    reading_order: tuple[str, ...] = ()
    """Needs of the rangers in the order in which they are read, again and again; empty: as ``reads`` says."""
    median: int = 1
    """The program follows the median of so many readings: an odd number."""
    frame_interval_s: float = 0.1
    """From one infrared frame of a command to its repetition (common practice, no source)."""
    lost_frames: int = 1
    """How many frames one after the other are reckoned lost (common practice, no source)."""
    coupling_play: float = 1.0
    """How far each coupling gives between pull and push, in mm (common practice, no source)."""
    speed_in_curves: float = 0.0
    """Speed at which the program runs about curves; 0: no slower than elsewhere."""

    @property
    def curve_speed(self) -> float:
        """Speed about curves."""
        return min(self.speed_in_curves or self.speed, self.speed)
