"""A place that a maker fixes: which side of the part lies how far from where, and what points which way."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Self

from pydantic import Field, PlainValidator, model_validator

from fitplan.errors import nearest_name
from fitplan.files.document import Text, shown
from fitplan.files.entries import Entry, about
from fitplan.files.fields import InvalidValue, Length, Name, Point, Side, ValueKind
from fitplan.model.needed import FixedPlace, PartSide
from fitplan.model.part import Part
from fitplan.model.solids import Direction, poses
from fitplan.model.vehicle import Vehicle

_POSES = tuple(pose.name for pose in poses())
_ODDS = (
    ("from rear", "from front"),
    ("from right", "from left"),
    *(("offset", key) for key in ("from rear", "from front", "from right", "from left", "above rail")),
    *(("pose", key) for key in ("top towards", "front towards", "plug towards")),
)
"""Keys that would say the same thing twice."""


def read_pose(value: object) -> str:
    """Return a pose by its name."""
    expected = "where the part's own x, y and z point, such as +x+y+z or +y-x+z"
    if not isinstance(value, Text) or value.strip() not in _POSES:
        near = nearest_name(str(value), _POSES) if isinstance(value, Text) else ""
        raise InvalidValue(shown(value), expected, near)
    return str(value.strip())


class AtEntry(Entry):
    """Where a part is fixed, wholly or in some respects; what is not said is left to the search."""

    vehicle: Name = about("which vehicle")
    from_rear: Length | None = Field(
        None, description="from the rear end of the vehicle's footprint to the part's rearmost point"
    )
    from_front: Length | None = Field(None, description="from the front end to the part's foremost point")
    from_right: Length | None = Field(None, description="from the right side to the part's rightmost point")
    from_left: Length | None = Field(None, description="from the left side to the part's leftmost point")
    above_rail: Length | None = Field(
        None, description="from the rail head to its lowest point; when not given it lies on what carries it"
    )
    top_towards: Side | None = Field(None, description="where its own top points")
    front_towards: Side | None = Field(None, description="where its own front points")
    plug_towards: Side | None = Field(None, description="from which side its plug is put in")
    pose: (
        Annotated[str, PlainValidator(read_pose), ValueKind("where its x, y and z point: +y-x+z")] | None
    ) = Field(None, description="how it is turned, exactly; `+x+y+z` when only `offset` is given")
    offset: Point | None = Field(
        None, description="where the origin of its own frame comes to lie, in the vehicle's frame"
    )

    @model_validator(mode="after")
    def _check_said(self) -> Self:
        said = {key.replace("_", " ") for key, value in self if value is not None} - {"vehicle", "spot"}
        known = [key for key in self.known_keys() if key in said]
        if not known:
            raise self.lacking(
                "a vehicle alone", "'from rear' or another key of a place; or 'in' for a vehicle"
            )
        for one, other in _ODDS:
            if one in known and other in known:
                raise self.lacking(f"both {one!r} and {other!r}", "one of them, as they say the same")
        return self


def fixed_place(at: AtEntry, vehicle: Vehicle) -> FixedPlace:
    """Return the place that an entry of a train file fixes in a vehicle.

    Distances count from the faces of the vehicle's footprint inwards, heights from the rail head upwards.
    """
    planes: tuple[tuple[Direction, float | None], ...] = (
        ("-x", at.from_rear),
        ("+x", None if at.from_front is None else vehicle.length - at.from_front),
        ("-y", at.from_right),
        ("+y", None if at.from_left is None else vehicle.width - at.from_left),
        ("-z", at.above_rail),
    )
    towards: tuple[tuple[PartSide, Direction | None], ...] = (
        ("+z", at.top_towards),
        ("+x", at.front_towards),
        ("plug", at.plug_towards),
    )
    return FixedPlace(
        vehicle=str(at.vehicle),
        pose=at.pose or ("+x+y+z" if at.offset is not None else None),
        offset=at.offset,
        towards=tuple((side, way) for side, way in towards if way is not None),
        planes=tuple((side, plane) for side, plane in planes if plane is not None),
    )


def has_socket(parts: Iterable[Part]) -> bool:
    """Return whether one of the parts has a socket that a plug goes into."""
    return any(access.kind in ("console", "socket") for part in parts for access in part.access)
