"""Makes the take of `livecheck demo`: a learner plays the bundled lesson, with the mistakes of `planted.json` in it.

    python -m tests.bench.demo

The performance is the benchmark's; what sounds is a voice of the soundfont FluidR3 (recorded guitar, long sustain),
played by FluidSynth, each string on its own MIDI channel. The same bytes come out each time. Nothing is written unless
the truth about the performance is what `planted.json` says.
"""

from __future__ import annotations

import io
import json
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import mido
import numpy as np
import soundfile
from numpy.typing import NDArray

import livecheck.demo
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Lesson
from livecheck.sources.library import load_lesson
from tests.bench import render, truth
from tests.bench.bank import PROGRAMS, RATE_HZ, soundfont
from tests.bench.ogg import with_serial
from tests.bench.performance import Manner, Performance, Player
from tests.bench.slips import Slip

FOLDER = Path(livecheck.demo.__file__).parent
SEED = 1
TEMPO = 78.0
"""A learner's, slower than written."""
MANNER = Manner(60.0 / TEMPO, 0.5, vibrato_cents=10.0, vibrato_hz=5.2, loose_vibrato=False, cents=2.0)
LEAD_IN_S, PAUSE_BEATS = 1.0, 1.0
DRUMS = 9
"""Channel of the drums in General MIDI, from 0."""
BLOCK = 4096
TAIL_TICKS = render.TICKS_PER_S
PEAK = 0.7
COARSENESS = 0.6
"""How hard the sound is compressed, from 0 to 1."""

PLAYED: Sequence[tuple[str, Sequence[Slip]]] = (
    ("rise", [Slip("late-bar", 2, amount=0.19), Slip("damped", 3, (8,), amount=0.25)]),
    ("fall", [Slip("bar-cents", 3, amount=-28.0)]),
    ("grips", [Slip("unstruck", 1, (7,))]),
    ("grips", [Slip("foot-unmoved", 6, pedal="B")]),
    ("line", [Slip("undamped", 1, (8,), amount=0.95), Slip("other-string", 6, (4,), other=3)]),
    ("home", [Slip("struck-again", 2, (5,), amount=1.2)]),
)
"""Each attempt and its slips."""


def performances(lesson: Lesson) -> tuple[Performance, ...]:
    """All attempts, one after the other."""
    figures = {figure.name: figure for figure in lesson.figures}
    rng = np.random.default_rng(SEED)
    played, now_s = [], LEAD_IN_S
    for name, slips in PLAYED:
        end_s = now_s + float(figures[name].length) * MANNER.beat_s
        next_s = end_s + PAUSE_BEATS * MANNER.beat_s
        player = Player(expect(figures[name], lesson.copedent), lesson.copedent, MANNER, now_s, end_s, slips, rng)
        played.append(player.perform())
        now_s = next_s
    return tuple(played)


def planted(lesson: Lesson, played: Sequence[Performance]) -> dict[str, Any]:
    """What of the truth is amiss, in the shape of `planted.json`."""
    figures = [
        {
            "figure": figure["figure"],
            "attempt": figure["attempt"],
            "checkpoints": [
                {key: row[key] for key in ("step", "string", "kind", "faults")}
                for row in figure["checkpoints"]
                if row["faults"]
            ],
            "extras": [{key: extra[key] for key in ("fault", "string", "at_s")} for extra in figure["extras"]],
        }
        for figure in truth.report(played, (), lesson, MANNER.beat_s, 0.0, None)["figures"]
    ]
    return {"format": 1, "figures": figures}


def sound(played: Sequence[Performance]) -> NDArray[np.float32]:
    """The take as mono samples at 48 kHz, with a little noise of the amplifier under it."""
    score = render.midi(played, 0.0)
    (track,) = score.tracks
    score.tracks[0] = mido.MidiTrack([*_voiced(track), mido.MetaMessage("end_of_track", time=TAIL_TICKS)])
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder) / "take.mid", Path(folder) / "take.wav"
        score.save(midi)
        command = ["fluidsynth", "-ni", "-q", "-g", "0.6", "-R", "0", "-C", "0", "-r", str(RATE_HZ)]
        subprocess.run([*command, "-F", str(wave), str(soundfont()), str(midi)], check=True, capture_output=True)
        stereo, _ = soundfile.read(wave, dtype="float32")
    mono = stereo.mean(axis=1)
    mono *= PEAK / np.abs(mono).max()
    return np.asarray(mono + np.random.default_rng(SEED).normal(0.0, render.NOISE, len(mono)), dtype=np.float32)


def _voiced(track: Sequence[mido.Message]) -> Iterator[mido.Message]:
    """Each string on the voice, and none on the channel of the drums."""
    bank_number, program = PROGRAMS["steel"]
    for channel in range(11):
        yield mido.Message("control_change", channel=channel, control=0, value=bank_number)
        yield mido.Message("program_change", channel=channel, program=program)
    for message in track:
        yield message if message.is_meta else message.copy(channel=message.channel + (message.channel >= DRUMS))


def compressed(samples: NDArray[np.float32]) -> bytes:
    """Ogg Vorbis (RFC 5334), written in blocks: libsndfile 1.2 runs out of stack on a whole minute at once."""
    data = io.BytesIO()
    with soundfile.SoundFile(
        data, "w", RATE_HZ, 1, format="OGG", subtype="VORBIS", compression_level=COARSENESS
    ) as file:
        for start in range(0, len(samples), BLOCK):
            file.write(samples[start : start + BLOCK])
    return with_serial(data.getvalue(), SEED)


def main() -> None:
    lesson = load_lesson(str(FOLDER / "lesson.toml"))
    played = performances(lesson)
    wanted = json.loads((FOLDER / "planted.json").read_text(encoding="utf-8"))
    if planted(lesson, played) != wanted:
        raise SystemExit(f"the performance has not what planted.json says: {json.dumps(planted(lesson, played))}")
    (FOLDER / "take.ogg").write_bytes(compressed(sound(played)))


if __name__ == "__main__":
    main()
