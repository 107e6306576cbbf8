"""One string sounding from a pick to its end."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

RATE = 48000
Wave = NDArray[np.float64]


@dataclass
class Sound:
    """`points` are (seconds, MIDI pitch), linear between, held beyond the ends."""

    string: int
    start_s: float
    points: list[tuple[float, float]]
    loudness: float
    end_s: float = 0.0
    vibrato_cents: float = 0.0
    vibrato_hz: float = 5.0

    def glide(self, over_s: float, at_s: float, midi: float) -> None:
        begin = max(at_s - over_s, self.points[-1][0] + 0.01)
        self.points += [(begin, self.points[-1][1]), (max(at_s, begin + 0.03), midi)]

    def curve(self) -> Wave:
        """MIDI pitch at every sample."""
        times = self.start_s + np.arange(max(int((self.end_s - self.start_s) * RATE), 1)) / RATE
        pitch = np.interp(times, [point[0] for point in self.points], [point[1] for point in self.points])
        since = times - self.start_s
        grown = np.clip((since - 0.3) / 0.3, 0, 1)
        vibrato = self.vibrato_cents / 100 * grown * np.sin(2 * np.pi * self.vibrato_hz * since)
        return np.asarray(pitch + vibrato, np.float64)


def hertz(midi: Wave) -> Wave:
    return np.asarray(440 * 2 ** ((midi - 69) / 12), np.float64)
