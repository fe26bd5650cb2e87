"""Track and running as train files say them."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, PlainValidator, model_validator

from fitplan.files.document import Text
from fitplan.files.entries import Entry, about
from fitplan.files.fields import Distance, Extent, ValueKind, YesNo, number, one_of, read_name, several, whole


class TrackEntry(Entry):
    """The track."""

    radius: Extent = Field(320.0, description="sharpest curve, to the middle of the track")
    reverse_curve: YesNo = Field(
        False, description="curves follow each other the other way without a straight"
    )
    straight_between: Distance = Field(
        128.0,
        description="shortest straight between curves of opposite hand; none with `reverse curve`",
    )
    gradient: Annotated[float, PlainValidator(number("%", least=0, most=25)), ValueKind("number in %")] = (
        Field(0.0, description="steepest gradient, up and down")
    )
    gauge: Extent = Field(38.0, description="from rail to rail")
    structure_half_width: Extent = Field(40.0, description="clear width beside the middle of straight track")
    structure_height: Extent = Field(120.0, description="clear height above the rail head")
    adhesion: Annotated[float, PlainValidator(number(above=0, most=2)), ValueKind("number from 0 to 2")] = (
        Field(0.25, description="most pull or brake of a driven wheel over its load; steel on dry steel")
    )


class RunningEntry(Entry):
    """How the train runs."""

    speed: Annotated[
        float, PlainValidator(number("mm/s", above=0, most=5000)), ValueKind("number in mm/s")
    ] = about("top speed")
    deceleration: Annotated[float, PlainValidator(number("mm/s²", above=0)), ValueKind("number in mm/s²")] = (
        Field(600.0, description="when the motor is stopped")
    )
    reading_interval: Annotated[
        float, PlainValidator(number("s", above=0, most=60)), ValueKind("number in s")
    ] = Field(0.1, description="from one reading of a ranger to the next")
    command_delay: Annotated[
        float, PlainValidator(number("s", least=0, most=60)), ValueKind("number in s")
    ] = Field(0.15, description="from the decision to the motor")
    temperature: Annotated[
        float, PlainValidator(number("°C", least=-30, most=60)), ValueKind("number in °C")
    ] = Field(20.0, description="of the air")
    trip_distance: Distance = Field(
        0.0, description="distance at which your program stops; 0: to be proposed"
    )
    margin: Distance = Field(20.0, description="distance that must be left")
    hours: Annotated[float, PlainValidator(number("h", above=0, most=1000)), ValueKind("number in h")] = (
        Field(2.0, description="how long the train is to run")
    )
    push_pull: YesNo | None = Field(
        None, description="runs both ways, so something must watch both; not said: one way is asked about"
    )
    reads: Annotated[
        Literal["front", "alternating", "all"],
        PlainValidator(one_of(("front", "alternating", "all"))),
        ValueKind("front, alternating or all"),
    ] = Field("front", description="which rangers are read")
    reading_order: Annotated[
        list[Text], PlainValidator(several(read_name, "rangers")), ValueKind("list of needs")
    ] = Field([], description="rangers in the order in which they are read; as `reads` says when not given")
    median: Annotated[int, PlainValidator(whole(1, 31)), ValueKind("odd number from 1 to 31")] = Field(
        1, description="your program follows the median of so many readings"
    )
    frame_interval: Annotated[
        float, PlainValidator(number("s", above=0, most=60)), ValueKind("number in s")
    ] = Field(0.1, description="from one infrared frame of a command to its repetition")
    lost_frames: Annotated[int, PlainValidator(whole(0, 20)), ValueKind("number from 0 to 20")] = Field(
        1, description="infrared frames one after the other that are reckoned lost"
    )
    coupling_play: Distance = Field(1.0, description="how far each coupling gives between pull and push")
    speed_in_curves: (
        Annotated[float, PlainValidator(number("mm/s", above=0, most=5000)), ValueKind("number in mm/s")]
        | None
    ) = Field(None, description="about curves, where your program slows down; `speed` when not given")

    @model_validator(mode="after")
    def _check_median(self) -> Self:
        if self.median % 2 == 0:
            raise self.lacking(f"a median of {self.median} readings", "an odd number in 'median'")
        return self
