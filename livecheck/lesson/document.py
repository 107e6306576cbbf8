"""The files of a lesson as they are written: one struct a table, strict about keys.

The structs are also the source of the published JSON Schemas (`livecheck.lesson.schema`). Values are checked for their
type here; what a value must be to make sense is checked by `livecheck.lesson.reading`.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from msgspec import Meta, Struct

Format = Annotated[Literal[1], Meta(description="The format of this file, always 1.")]
BeatText = Annotated[str, Meta(extra_json_schema={"pattern": r"^\s*(\d+(\.\d+)?|(\d+\s+)?\d+\s*/\s*\d+)\s*$"})]
Beat = Annotated[int | float | BeatText, Meta(description='Beats: a number, or text such as "9/2" or "4 1/2".')]
StringNumber = Annotated[int, Meta(extra_json_schema={"minimum": 1})]
Strings = Annotated[list[StringNumber], Meta(extra_json_schema={"uniqueItems": True})]
PerString = Annotated[
    dict[int, float],
    Meta(description="String number -> value.", extra_json_schema={"propertyNames": {"pattern": "^[1-9][0-9]*$"}}),
]
"""The keys of a TOML table are text; these are whole numbers from 1."""
HowFar = Annotated[float, Meta(extra_json_schema={"minimum": 0, "maximum": 1})]
PitchName = Annotated[str, Meta(extra_json_schema={"pattern": r"^\s*[A-Ga-g](##|bb|#|b)?(-1|[0-9])\s*$"})]
Cents = Annotated[float, Meta(extra_json_schema={"minimum": -100, "maximum": 100})]


class CopedentFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A copedent: an instrument's strings, and what each pedal and knee lever does to them."""

    format: Format
    strings: Annotated[
        list[PitchName],
        Meta(
            description='Open pitches, such as "G#4"; string 1, the one farthest from the player, first.',
            extra_json_schema={"minItems": 1},
        ),
    ]
    name: Annotated[str, Meta(description="What people call this set-up.")] = ""
    string_cents: Annotated[
        list[Cents] | None,
        Meta(description="How far each open string is tuned from equal temperament, in cents."),
    ] = None
    changes: Annotated[
        dict[str, PerString],
        Meta(description='Pedal or lever -> string -> semitones. "L+P": a pair, where it is not what the rule gives.'),
    ] = {}
    drop_cents: Annotated[
        dict[str, Cents],
        Meta(description="Pedal or lever -> how far the strings fall that it does not pull, in cents."),
    ] = {}
    measured: Annotated[date | None, Meta(description="The day on which the instrument was measured to be so.")] = None


class StepFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """One step of a figure, complete on its beat."""

    beat: Annotated[
        Beat,
        Meta(description="From 1 at the figure's start: when the pick sounds, when the bar or pedal has arrived."),
    ]
    fret: Annotated[
        float | None,
        Meta(description="Where the bar is; decimals allowed, 0 is open.", extra_json_schema={"minimum": 0}),
    ] = None
    slant: Annotated[PerString | None, Meta(description="A fret per string, instead of fret.")] = None
    pull: Annotated[
        PerString | None,
        Meta(description="Semitones by which a string is pulled behind the bar (lap steel)."),
    ] = None
    down: Annotated[
        list[str] | dict[str, HowFar] | None,
        Meta(description="Pedals and levers engaged once the step is complete; a table of 0 to 1 for half-pedals."),
    ] = None
    pick: Annotated[
        Strings | None,
        Meta(description="Strings struck, at the new position.", extra_json_schema={"minItems": 1}),
    ] = None
    ring: Annotated[bool | Strings, Meta(description="Strings that a pick lets ring; true keeps all.")] = False
    roll: Annotated[Beat, Meta(description="Beats between the strings of a pick, in the order listed.")] = 0
    harmonic: Annotated[Literal[5, 7, 12] | None, Meta(description="Touched so many frets above the bar.")] = None
    swell: Annotated[bool, Meta(description="Faded in: the start is not judged.")] = False
    over: Annotated[
        Beat | None,
        Meta(description="Beats that a move takes, ending on its beat; 0.25 if left out."),
    ] = None
    block: Annotated[
        Strings | Literal["all"] | None,
        Meta(description='Strings silenced at the beat, or "all".'),
    ] = None
    vibrato: Annotated[bool, Meta(description="Bar vibrato from here; not judged.")] = False
    remark: Annotated[str, Meta(description="The teacher's words, shown.")] = ""


class FigureFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A figure: a short phrase to be learnt and checked as one."""

    name: Annotated[str, Meta(description="Its name, different from every other figure's.")]
    length: Annotated[Beat, Meta(description="Beats, rests at the end included.")]
    backing_at: Annotated[
        float | None,
        Meta(
            description="Where its beat 1 lies in the lesson's backing, in seconds.", extra_json_schema={"minimum": 0}
        ),
    ] = None
    steps: Annotated[
        list[StepFile],
        Meta(description="In order of their beats.", extra_json_schema={"minItems": 1}),
    ]


class LessonFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A lesson: figures for one copedent at one tempo."""

    format: Format
    copedent: Annotated[str, Meta(description="A name in configs/copedents, or a path relative to this file.")]
    tempo: Annotated[float, Meta(description="Beats a minute.", extra_json_schema={"minimum": 1, "maximum": 1000})]
    figure: Annotated[
        list[FigureFile],
        Meta(description="The figures, in the order in which they are played.", extra_json_schema={"minItems": 1}),
    ]
    title: Annotated[str, Meta(description="The lesson's title.")] = ""
    meter: Annotated[str, Meta(description='Beats and note value, such as "4/4".')] = "4/4"
    tolerances: Annotated[
        str,
        Meta(description="A name in configs/tolerances, or a path relative to this file."),
    ] = "standard"
    backing: Annotated[
        str | None,
        Meta(description="An audio file to play with, at the lesson's tempo; its path relative to this file."),
    ] = None
    reference: Annotated[
        Literal["take"] | float,
        Meta(description='"take" (the take\'s own pitch), or the frequency of A4 in Hz.'),
    ] = "take"
