"""Scales: their tones, how they are spelled, and the chords on their degrees.

Convention: a tone is semitones above the tonic; a degree counts from 0, the tonic, and goes on beyond the octave.
"""

from __future__ import annotations

from dataclasses import dataclass

from livecheck.neck.chord import pitch_class_of

SCALES: dict[str, tuple[int, ...]] = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "minor": (0, 2, 3, 5, 7, 8, 10),
    "harmonic-minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic-minor": (0, 2, 3, 5, 7, 9, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "major-pentatonic": (0, 2, 4, 7, 9),
    "minor-pentatonic": (0, 3, 5, 7, 10),
}
"""Melodic minor as it goes up."""
_TRIADS = {(4, 7): "", (3, 7): "m", (3, 6): "dim", (4, 8): "aug"}
_LETTERS = "CDEFGAB"
_PENTATONIC_LETTERS = {"major-pentatonic": (0, 1, 2, 4, 5), "minor-pentatonic": (0, 2, 3, 4, 6)}


@dataclass(frozen=True)
class Scale:
    tonic: str
    """A name such as "Bb"."""
    kind: str
    """A key of `SCALES`."""

    @property
    def name(self) -> str:
        return f"{self.tonic} {self.kind.replace('-', ' ')}"

    @property
    def tones(self) -> tuple[int, ...]:
        return SCALES[self.kind]

    @property
    def pitch_class(self) -> int:
        return pitch_class_of(self.tonic)

    @property
    def has_chords(self) -> bool:
        """Whether every other tone gives thirds: with seven tones it does."""
        return len(self.tones) == 7

    def above(self, degree: int) -> int:
        """Semitones from the tonic to a degree, which may lie in another octave."""
        octave, index = divmod(degree, len(self.tones))
        return 12 * octave + self.tones[index]

    def tone_name(self, degree: int) -> str:
        """As it is spelled in this scale, each letter once: the seventh of G major is F#, of F# major E#."""
        index = degree % len(self.tones)
        steps = _PENTATONIC_LETTERS.get(self.kind, range(7))[index]
        letter = _LETTERS[(_LETTERS.index(self.tonic[0]) + steps) % 7]
        wanted = (self.pitch_class + self.tones[index]) % 12
        accidentals = (wanted - pitch_class_of(letter) + 6) % 12 - 6
        return letter + ("#" * accidentals if accidentals > 0 else "b" * -accidentals)

    def chord_at(self, degree: int) -> str:
        """The triad on a degree: "Am", "F#dim"."""
        third, fifth = (self.above(degree + further) - self.above(degree) for further in (2, 4))
        return self.tone_name(degree) + _TRIADS[third, fifth]
