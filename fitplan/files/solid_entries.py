"""Boxes, cylinders and wedges as they are written."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, PlainValidator, model_validator

from fitplan.files.entries import Entry, about
from fitplan.files.fields import Extent, InvalidValue, Point, Side, Size, ValueKind, one_of
from fitplan.model.solids import Axis, Box, Cylinder, Solid, Wedge, axis_of

_AXES: dict[str, Axis] = {"front": "x", "left": "y", "up": "z"}


def _read_axis(value: object) -> Axis:
    return _AXES[one_of(_AXES)(value)]


class BoxEntry(Entry):
    """A box between two opposite corners."""

    from_: Point = about("a corner")
    to: Point | None = Field(None, description="the opposite corner; or give `size`")
    size: Size | None = Field(
        None, description="edges from the corner towards front, left and up; or give `to`"
    )

    @model_validator(mode="after")
    def _check_corner(self) -> Self:
        if (self.to is None) == (self.size is None):
            found = "neither 'to' nor 'size'" if self.to is None else "both 'to' and 'size'"
            raise self.lacking(found, "a box with 'from' and one of 'to' and 'size'")
        return self

    def flat_box(self) -> Box:
        """Return the box, which may have no thickness along some axis."""
        a = self.from_
        if self.to is not None:
            b = self.to
        else:
            dx, dy, dz = self.size or (0.0, 0.0, 0.0)
            b = (round(a[0] + dx, 6), round(a[1] + dy, 6), round(a[2] + dz, 6))
        low = (min(a[0], b[0]), min(a[1], b[1]), min(a[2], b[2]))
        high = (max(a[0], b[0]), max(a[1], b[1]), max(a[2], b[2]))
        return Box(low, high)


class FullBoxEntry(BoxEntry):
    """A box that must have a volume."""

    @model_validator(mode="after")
    def _check_volume(self) -> Self:
        for name, edge in zip(("x", "y", "z"), self.flat_box().size, strict=True):
            if edge <= 0:
                raise InvalidValue(
                    f"a box without extent along {name}", "corners that differ along x, y and z"
                )
        return self


class FlatBoxEntry(BoxEntry):
    """A box that may be flat along one axis."""

    @model_validator(mode="after")
    def _check_area(self) -> Self:
        if sum(edge > 0 for edge in self.flat_box().size) < 2:
            raise InvalidValue("a box without area", "corners that differ along at least two of x, y and z")
        return self


class CylinderEntry(Entry):
    """A cylinder along an axis."""

    axis: Annotated[Axis, PlainValidator(_read_axis), ValueKind("front, left or up")] = about(
        "which way it lies"
    )
    from_: Point = about("middle of the end face that is rearmost, rightmost or lowest")
    length: Extent = about("from end face to end face")
    diameter: Extent = about("diameter")


class WedgeEntry(Entry):
    """Half of a box, cut along the plane through two opposite edges."""

    from_: Point = about("a corner of the box")
    to: Point | None = Field(None, description="the opposite corner; or give `size`")
    size: Size | None = Field(None, description="edges from the corner; or give `to`")
    base: Side = about("a face of the box that the wedge fills")
    back: Side = about("the other face that it fills; on another axis than `base`")

    @model_validator(mode="after")
    def _check_faces(self) -> Self:
        if axis_of(self.base) == axis_of(self.back):
            raise InvalidValue(
                "'base' and 'back' on one axis", "two faces that meet at an edge, such as down and rear"
            )
        if (self.to is None) == (self.size is None):
            found = "neither 'to' nor 'size'" if self.to is None else "both 'to' and 'size'"
            raise self.lacking(found, "a wedge with 'from' and one of 'to' and 'size'")
        if min(self.box().size) <= 0:
            raise InvalidValue("a wedge without volume", "corners that differ along x, y and z")
        return self

    def box(self) -> Box:
        """Return the box that the wedge is cut from."""
        entry = BoxEntry.model_construct(from_=self.from_, to=self.to, size=self.size)
        return entry.flat_box()


class SolidEntry(Entry):
    """One solid: a box, a cylinder or a wedge."""

    box: FullBoxEntry | None = Field(None, description="a box: `from` and `to`, or `from` and `size`")
    cylinder: CylinderEntry | None = Field(
        None, description="a cylinder: `axis`, `from`, `length`, `diameter`"
    )
    wedge: WedgeEntry | None = Field(None, description="half a box: `from`, `to` or `size`, `base`, `back`")

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [name for name in ("box", "cylinder", "wedge") if getattr(self, name) is not None]
        if len(given) != 1:
            found = "no solid" if not given else f"{' and '.join(given)} together"
            raise self.lacking(found, "one of box, cylinder and wedge")
        return self

    def solid(self) -> Solid:
        """Return the solid."""
        if self.box is not None:
            return self.box.flat_box()
        if self.cylinder is not None:
            c = self.cylinder
            return Cylinder(c.axis, c.from_, c.length, c.diameter / 2)
        assert self.wedge is not None
        return Wedge(self.wedge.box(), self.wedge.base, self.wedge.back)
