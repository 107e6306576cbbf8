"""The files of a lesson as they are written: one struct a table, strict about keys.

The structs are also the source of the published JSON Schemas (`livecheck.lesson.schema`). Values are checked for their type here;
what a value must be to make sense is checked by `livecheck.lesson.reading`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, Struct

Beat = Annotated[
    int | float | str, Meta(description='Beats: a number, or text such as "9/2" or "4 1/2". Beat 1 is the figure\'s start.')
]
PerString = Annotated[dict[int, float], Meta(description="String number -> value.")]


class CopedentFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A copedent: strings, and what each pedal and knee lever does to them."""

    format: Annotated[Literal[1], Meta(description="Always 1.")]
    strings: Annotated[
        list[str],
        Meta(description='Open pitches, string 1 (the one farthest from the player) first: note name and octave, "G#4".'),
    ]
    name: Annotated[str, Meta(description="What people call this set-up.")] = ""
    string_cents: Annotated[
        list[float] | None, Meta(description="How far each open string is tuned from equal temperament, in cents.")
    ] = None
    changes: Annotated[
        dict[str, PerString],
        Meta(description='Pedal or lever -> string -> semitones; a pair such as "L+P" where it is not the largest pull.'),
    ] = {}


class StepFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """One step of a figure, complete on its beat."""

    beat: Annotated[Beat, Meta(description="When the step is complete: the pick sounds, the bar or pedal has arrived.")]
    fret: Annotated[float | None, Meta(description="Where the bar is; decimals allowed, 0 is open.")] = None
    slant: Annotated[PerString | None, Meta(description="A fret per string, instead of fret.")] = None
    pull: Annotated[PerString | None, Meta(description="Semitones by which a string is pulled behind the bar.")] = None
    down: Annotated[
        list[str] | dict[str, float] | None,
        Meta(description="Pedals and levers engaged once the step is complete; a table of 0 to 1 for half-pedals."),
    ] = None
    pick: Annotated[list[int] | None, Meta(description="Strings struck, at the new position.")] = None
    ring: Annotated[bool | list[int], Meta(description="Strings that a pick lets ring; true keeps all.")] = False
    roll: Annotated[Beat, Meta(description="Beats between the strings of a pick, in the order listed.")] = 0
    harmonic: Annotated[int | None, Meta(description="Touched so many frets above the bar: 5, 7 or 12.")] = None
    swell: Annotated[bool, Meta(description="Faded in: the start is not judged.")] = False
    over: Annotated[Beat | None, Meta(description="Beats that a move takes, ending on its beat; 0.25 if left out.")] = None
    block: Annotated[list[int] | Literal["all"] | None, Meta(description='Strings silenced at the beat, or "all".')] = None
    vibrato: Annotated[bool, Meta(description="Bar vibrato from here; not judged.")] = False
    remark: Annotated[str, Meta(description="The teacher's words, shown.")] = ""


class FigureFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A figure: a short phrase to be learnt and checked as one."""

    name: Annotated[str, Meta(description="Its name, different from every other figure's.")]
    length: Annotated[Beat, Meta(description="Beats, rests at the end included.")]
    steps: Annotated[list[StepFile], Meta(description="In order of their beats.")]


class LessonFile(Struct, forbid_unknown_fields=True, kw_only=True):
    """A lesson: figures for one copedent at one tempo."""

    format: Annotated[Literal[1], Meta(description="Always 1.")]
    copedent: Annotated[str, Meta(description="A name in configs/copedents, or a path relative to this file.")]
    tempo: Annotated[float, Meta(description="Beats a minute.")]
    figure: Annotated[list[FigureFile], Meta(description="The figures, in the order in which they are played.")]
    title: Annotated[str, Meta(description="The lesson's title.")] = ""
    meter: Annotated[str, Meta(description='Such as "4/4".')] = "4/4"
    tolerances: Annotated[str, Meta(description="A name in configs/tolerances, or a path relative to this file.")] = "standard"
    reference: Annotated[
        Literal["take"] | float, Meta(description='"take" (the take\'s own pitch), or the frequency of A4 in Hz.')
    ] = "take"
