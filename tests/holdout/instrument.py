"""An instrument as its copedent says: each string's pitch at a fret, with pedals down. Pitches are MIDI numbers."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

COPEDENTS = Path(__file__).parents[2] / "configs" / "copedents"
NAMES = ("e9-ten-string", "c6-ten-string", "lap-steel-six-c6", "lap-steel-six-a6", "lap-steel-eight-c6", "open-g")
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True)
class Instrument:
    name: str
    open_midi: tuple[float, ...]
    changes: dict[str, dict[int, float]]

    @property
    def strings(self) -> range:
        return range(1, len(self.open_midi) + 1)

    def pitch(self, string: int, fret: float, down: tuple[str, ...]) -> float:
        """Raises do not add, nor lowers: the largest of each counts."""
        pulls = [self.changes[change].get(string, 0.0) for change in down]
        return self.open_midi[string - 1] + fret + max([0.0, *pulls]) + min([0.0, *pulls])


def note_midi(note: str) -> int:
    return 12 * (int(note[-1]) + 1) + SEMITONES[note[0]] + note.count("#")


def read(name: str) -> Instrument:
    text = tomllib.loads((COPEDENTS / f"{name}.toml").read_text())
    changes = {
        change: {int(string): float(semitones) for string, semitones in pulls.items()}
        for change, pulls in text.get("changes", {}).items()
        if "+" not in change
    }
    return Instrument(name, tuple(float(note_midi(note)) for note in text["strings"]), changes)
