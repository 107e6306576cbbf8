"""Performances turned into sound and into MIDI.

Sound: mono, 48 kHz; each struck string is a held note of a bank, played at the rate that its pitch curve asks for,
begun at its time to the sample and faded out within 20 ms where it is silenced. MIDI: string n on channel n, bend range
24 by RPN 0, a bend at least every 5 ms while the pitch changes.
"""

from __future__ import annotations

from collections.abc import Sequence

import mido
import numpy as np
from numpy.typing import NDArray

from tests.bench.bank import PRE_S, RATE_HZ, Bank, read_at
from tests.bench.habit import NONE, Habit
from tests.bench.noises import noises
from tests.bench.performance import Performance, Struck

FADE_S = 0.02
BEND_RANGE = 24.0
BEND_EVERY_S = 0.005
TICKS_PER_S = 1920
NOISE = 10.0 ** (-76.0 / 20.0)
LEVEL = 0.25
SWELL_S = 0.35


def sound(
    performances: Sequence[Performance], bank: Bank, tuning_cents: float, length_s: float, seed: int,
    habit: Habit = NONE,
) -> NDArray[np.float32]:  # fmt: skip
    """The take as mono samples, with a little noise of the amplifier under it."""
    rng = np.random.default_rng((seed, 77))
    out = rng.normal(0.0, NOISE, round(length_s * RATE_HZ))
    for performance in performances:
        for struck in performance.sounded:
            for start_s, end_s in _attacks(struck):
                _add(out, struck, start_s, end_s, bank, tuning_cents, habit.swell_s or SWELL_S)
    out += noises(performances, habit, len(out), np.random.default_rng((seed, 78)))
    return (out * min(1.0, 0.95 / float(np.abs(out).max()))).astype(np.float32)


def _attacks(struck: Struck) -> list[tuple[float, float]]:
    """(from, to) of each attack: a string struck again stops for a moment under the finger."""
    begins = [struck.start_s, *struck.again_s]
    ends = [*(at_s - 0.012 for at_s in struck.again_s), struck.end_s]
    return list(zip(begins, ends, strict=True))


def _add(
    out: NDArray[np.float64], struck: Struck, start_s: float, end_s: float, bank: Bank, tuning_cents: float,
    swell_s: float,
) -> None:  # fmt: skip
    first = round((start_s - PRE_S) * RATE_HZ)
    count = min(round((end_s - start_s + PRE_S + FADE_S / 2) * RATE_HZ), len(out) - first)
    times = (first + np.arange(count)) / RATE_HZ
    midis = np.interp(times, struck.times_s, struck.midis) + tuning_cents / 100.0
    held = bank.nearest(float(midis[0]))
    rates = 2.0 ** ((midis - held.midi) / 12.0)
    # The sound begins PRE_S into the held note, whatever the rate.
    begin = round(PRE_S * RATE_HZ)
    position = np.concatenate(([0.0], np.cumsum(rates)[:-1]))
    position += begin - position[begin]
    played = read_at(held.samples, np.maximum(position, 0.0)) * LEVEL * struck.gain
    fade = min(round(FADE_S * RATE_HZ), count)
    played[count - fade :] *= 0.5 + 0.5 * np.cos(np.linspace(0.0, np.pi, fade))
    if struck.swell:
        played *= np.clip((times - struck.start_s) / swell_s, 0.0, 1.0) ** 2
    out[first : first + count] += played


def level_db(struck: Struck, bank: Bank, at_s: float) -> float:
    """How loud a string still is at a time, as its recording has faded by then, against a peak of full scale."""
    since_s = max((start_s for start_s, _ in _attacks(struck) if start_s <= at_s), default=struck.start_s)
    times = np.arange(since_s, max(at_s, since_s + 0.001), 0.002)
    midis = np.interp(times, struck.times_s, struck.midis)
    held = bank.nearest(float(midis[0]))
    reached = int(np.sum(2.0 ** ((midis - held.midi) / 12.0)) * 0.002 * RATE_HZ)
    around = held.samples[reached : reached + RATE_HZ // 20]
    power = float(np.mean(around.astype(np.float64) ** 2)) if len(around) else 0.0
    return 10.0 * float(np.log10(power + 1e-12))


def midi(performances: Sequence[Performance], tuning_cents: float) -> mido.MidiFile:
    """The take as a Standard MIDI File of one track."""
    events: list[tuple[float, int, mido.Message]] = []
    strings = {struck.string for performance in performances for struck in performance.sounded}
    for string in sorted(strings):
        for control, value in ((101, 0), (100, 0), (6, int(BEND_RANGE)), (38, 0)):
            events.append((0.0, 0, mido.Message("control_change", channel=string - 1, control=control, value=value)))
    for performance in performances:
        for struck in performance.sounded:
            events += _events(struck, tuning_cents)
    events.sort(key=lambda event: (event[0], event[1]))
    file = mido.MidiFile(ticks_per_beat=960)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=500_000))
    now = 0
    for time_s, _, message in events:
        ticks = round(time_s * TICKS_PER_S)
        track.append(message.copy(time=max(0, ticks - now)))
        now = max(now, ticks)
    return file


def _events(struck: Struck, tuning_cents: float) -> list[tuple[float, int, mido.Message]]:
    events: list[tuple[float, int, mido.Message]] = []
    channel = struck.string - 1
    for start_s, end_s in _attacks(struck):
        times = np.arange(start_s, end_s, BEND_EVERY_S)
        midis = np.interp(times, struck.times_s, struck.midis) + tuning_cents / 100.0
        key = round(float(midis[0]))
        bends = np.clip(np.round((midis - key) / BEND_RANGE * 8192.0), -8192, 8191).astype(int)
        last: int | None = None
        for time_s, bend in zip(times, bends, strict=True):
            if bend != last:
                events.append((float(time_s), 1, mido.Message("pitchwheel", channel=channel, pitch=int(bend))))
                last = int(bend)
        velocity = round(40 + 80 * struck.gain)
        events.append((start_s, 2, mido.Message("note_on", channel=channel, note=key, velocity=velocity)))
        events.append((end_s, 0, mido.Message("note_off", channel=channel, note=key, velocity=64)))
    return events
