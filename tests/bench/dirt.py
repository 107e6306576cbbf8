"""Sound as it arrives from a working rig, from mild to harsh: what `tests.bench.levels` has numbers for.

Each kind takes mono samples at 48 kHz and gives the same number of them (`rate`: of another rate), and the same seed
gives the same dirt.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from tests.bench.amplifier import compressed, driven, in_cabinet
from tests.bench.bank import RATE_HZ, bank, read_at
from tests.bench.levels import SOUND, at_level
from tests.bench.passband import loss

Samples = NDArray[np.float64]
Amounts = Mapping[str, float]
WET = frozenset({"delay", "delay-in-time", "spring", "reverb", "phone", "rig"})
"""Where a string that was silenced is still heard."""
SHORTEST_DELAY_S, LONGEST_DELAY_S = 0.2, 0.6
LEAST_REPEAT = 0.02


@dataclass(frozen=True)
class Heard:
    """What arrives."""

    samples: NDArray[np.float32]
    rate_hz: int


def dirty(sound: NDArray[np.float32], kind: str, level: str, seed: int, beat_s: float) -> Heard:
    """The sound with a kind of dirt at a level."""
    rng = np.random.default_rng((seed, 6, list(SOUND).index(kind)))
    amounts = at_level(SOUND, kind, level)
    if kind == "rate":
        rate_hz = round(1000.0 * amounts["kilohertz"])
        return Heard(soxr.resample(sound, RATE_HZ, rate_hz), rate_hz)
    heard = KINDS[kind](sound.astype(np.float64), amounts, rng, beat_s)
    if kind not in AS_LOUD_AS_IT_IS:
        heard *= min(1.0, 0.95 / float(np.abs(heard).max()))
    return Heard(heard.astype(np.float32), RATE_HZ)


def _delay(sound: Samples, amounts: Amounts, rng: np.random.Generator, _: float) -> Samples:
    return _repeated(sound, float(rng.uniform(SHORTEST_DELAY_S, LONGEST_DELAY_S)), amounts)


def _delay_in_time(sound: Samples, amounts: Amounts, rng: np.random.Generator, beat_s: float) -> Samples:
    """A quarter, half, three quarters or the whole of a beat."""
    fitting = [share for share in (0.25, 0.5, 0.75, 1.0) if SHORTEST_DELAY_S <= share * beat_s <= LONGEST_DELAY_S]
    return _repeated(sound, float(rng.choice(fitting)) * beat_s, amounts)


def _repeated(sound: Samples, delay_s: float, amounts: Amounts) -> Samples:
    """Each repeat a little darker than the one before, as a delay unit's are."""
    delay, level = round(delay_s * RATE_HZ), amounts["mix"]
    heard, repeat = sound.copy(), sound
    while level > LEAST_REPEAT and delay < len(sound):
        repeat = np.concatenate((np.zeros(delay), _below(repeat, 5000.0)[: len(sound) - delay]))
        heard += level * repeat
        level *= amounts["feedback"]
    return heard


def _spring(sound: Samples, amounts: Amounts, rng: np.random.Generator, _: float) -> Samples:
    """Two springs: chirps that come back every few hundredths of a second, high frequencies the later, up to 4.5 kHz.

    The delay of a spring against frequency as measured by Parker and Bilbao, "Spring reverberation: a physical
    perspective" (DAFx 2009), as a parabola.
    """
    count = 1 << (len(sound) + 4 * RATE_HZ).bit_length()
    hz = np.fft.rfftfreq(count, 1.0 / RATE_HZ)
    tail = np.zeros(len(hz), dtype=np.complex128)
    for period_s in (rng.uniform(0.033, 0.038), rng.uniform(0.041, 0.047)):
        share = np.minimum(hz / 4500.0, 1.0)
        # The integral of the delay period_s * (1 + share ** 2) over frequency.
        phase = 2.0 * np.pi * period_s * hz * (1.0 + share**2 / 3.0)
        loss = 10.0 ** (-3.0 * period_s / amounts["fall_s"])
        once = -loss * np.exp(-1j * phase)
        tail += np.exp(-0.5j * phase) / (1.0 - once)
    tail *= 1.0 / (1.0 + (hz / 4300.0) ** 12) * (hz / (hz + 80.0))
    return _with_wet(sound, np.fft.irfft(np.fft.rfft(sound, count) * tail, count)[: len(sound)], amounts["wet_db"])


def _reverb(sound: Samples, amounts: Amounts, rng: np.random.Generator, _: float) -> Samples:
    return _with_wet(sound, _in_tail(sound, amounts["fall_s"], 0.012, rng), amounts["wet_db"])


def _in_tail(sound: Samples, fall_s: float, before_s: float, rng: np.random.Generator) -> Samples:
    """Decaying noise, treble twice as fast as bass (Moorer, "About this reverberation business", 1979)."""
    times = np.arange(round(1.2 * fall_s * RATE_HZ)) / RATE_HZ
    noise = rng.normal(size=len(times))
    dark = _below(noise, 1500.0)
    tail = dark * 10.0 ** (-3.0 * times / fall_s) + (noise - dark) * 10.0 ** (-6.0 * times / fall_s)
    tail[: round(before_s * RATE_HZ)] = 0.0
    size = 1 << (len(sound) + len(tail)).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]


def _overdrive(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    """A driven amplifier, its treble cut a little by what comes after it."""
    return 0.5 * _below(driven(sound, amounts["drive"]), 6000.0)


def _hum(sound: Samples, amounts: Amounts, rng: np.random.Generator, _: float) -> Samples:
    times = np.arange(len(sound)) / RATE_HZ
    mains_hz = float(rng.choice((50.0, 60.0)))
    hum = sum(np.sin(2.0 * np.pi * mains_hz * n * times + rng.uniform(0.0, 6.0)) / n for n in (1, 2, 3, 4, 5, 6, 7, 9))
    return _with_wet(sound, np.asarray(hum), amounts["hum_db"])


def _hiss(sound: Samples, amounts: Amounts, rng: np.random.Generator, _: float) -> Samples:
    return _with_wet(sound, rng.normal(size=len(sound)), amounts["hiss_db"])


def _band(sound: Samples, amounts: Amounts, rng: np.random.Generator, beat_s: float) -> Samples:
    """Bass, drums and chords, in half of the takes at the player's own tempo."""
    beat_s *= 1.0 if rng.random() < 0.5 else float(rng.uniform(0.8, 1.25))
    band = np.zeros(len(sound))
    notes = bank("acoustic")
    root = int(rng.integers(0, 12))
    for beat, at_s in enumerate(np.arange(0.1, len(sound) / RATE_HZ - 0.5, beat_s)):
        degree = (0, 0, 5, 7)[beat // 4 % 4]
        bass = 33 + (root + degree) % 12
        _mix(band, at_s, 1.2 * _note(notes.nearest(float(bass)).samples, 0.8 * beat_s))
        if beat % 2:
            for step in (12, 16, 19):
                _mix(band, at_s, 0.35 * _note(notes.nearest(float(bass + step)).samples, 0.5 * beat_s))
        _mix(band, at_s, 0.8 * _drum(rng, 0.15, 900.0 if beat % 2 else 90.0))
        for half in (0.0, 0.5):
            _mix(band, at_s + half * beat_s, 0.25 * _drum(rng, 0.03, 7000.0))
    return _with_wet(sound, band, amounts["band_db"])


def _note(samples: NDArray[np.float32], length_s: float) -> Samples:
    count = round(length_s * RATE_HZ)
    played = read_at(samples, np.arange(count, dtype=np.float64))
    fade = min(count, round(0.03 * RATE_HZ))
    played[count - fade :] *= np.linspace(1.0, 0.0, fade)
    return played


def _drum(rng: np.random.Generator, fall_s: float, centre_hz: float) -> Samples:
    times = np.arange(round(3.0 * fall_s * RATE_HZ)) / RATE_HZ
    noise = rng.normal(size=len(times)) if centre_hz > 200.0 else np.ones(len(times))
    return np.asarray(noise * np.cos(2.0 * np.pi * centre_hz * times) * np.exp(-times / fall_s * 2.0))


def _faint(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    faint = sound * 10.0 ** (amounts["peak_db"] / 20.0) / float(np.abs(sound).max())
    return np.asarray(np.round(faint * 32768.0) / 32768.0)


def _clipped(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    return np.asarray(np.clip(sound * 10.0 ** (amounts["over_db"] / 20.0) / float(np.abs(sound).max()), -1.0, 1.0))


def _dc(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    return sound * (1.0 - amounts["offset"]) + amounts["offset"]


def _mp3(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    """Coded and decoded: MPEG-1 layer III at a constant rate."""
    file = io.BytesIO()
    coarseness = (320.0 - amounts["kilobits"]) / (320.0 - 32.0)
    with soundfile.SoundFile(
        file, "w", RATE_HZ, 1, format="MP3", subtype="MPEG_LAYER_III", compression_level=coarseness,
        bitrate_mode="CONSTANT",
    ) as writer:  # fmt: skip
        writer.write(sound)
    file.seek(0)
    decoded, _rate_hz = soundfile.read(file)
    return np.asarray(decoded[: len(sound)])


def _phone(sound: Samples, amounts: Amounts, rng: np.random.Generator, _: float) -> Samples:
    """A small microphone some way from the loudspeaker: early reflections and the room's tail, noise, a narrow band."""
    room = _in_tail(sound, 0.5, 0.003, rng)
    for _reflection in range(6):
        late = round(float(rng.uniform(0.002, 0.03)) * RATE_HZ)
        room[late:] += float(rng.uniform(-0.5, 0.5)) * np.sqrt(np.mean(room**2) / np.mean(sound**2)) * sound[:-late]
    heard = _with_wet(sound, room, amounts["wet_db"])
    heard = _with_wet(heard, rng.normal(size=len(sound)), amounts["noise_db"])
    return _band_of(heard, amounts)


def _compressed(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    return compressed(sound, amounts["over_db"], amounts["ratio"])


def _amplified(sound: Samples, amounts: Amounts, _rng: np.random.Generator, _: float) -> Samples:
    return in_cabinet(driven(sound, amounts["drive"]))


def _rig(sound: Samples, amounts: Amounts, rng: np.random.Generator, beat_s: float) -> Samples:
    """All of it, in the order in which it is plugged together."""
    steady = compressed(sound, amounts["over_db"], amounts["ratio"])
    sprung = _spring(in_cabinet(driven(steady, amounts["drive"])), amounts, rng, beat_s)
    return _hiss(_hum(sprung, amounts, rng, beat_s), amounts, rng, beat_s)


def _band_of(sound: Samples, amounts: Amounts) -> Samples:
    spectrum = np.fft.rfft(sound)
    hz = np.maximum(np.fft.rfftfreq(len(sound), 1.0 / RATE_HZ), 1e-3)
    spectrum /= loss(hz, amounts["low_hz"], amounts["high_hz"])
    return np.fft.irfft(spectrum, len(sound))


def _below(sound: Samples, limit_hz: float) -> Samples:
    """What lies below a frequency, by a filter of one pole."""
    keep = float(np.exp(-2.0 * np.pi * limit_hz / RATE_HZ))
    size = 1 << len(sound).bit_length()
    turns = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    return np.fft.irfft(np.fft.rfft(sound, size) * (1.0 - keep) / (1.0 - keep * turns), size)[: len(sound)]


def _with_wet(sound: Samples, other: Samples, db: float) -> Samples:
    """The sound with another one so loud beside it."""
    share = 10.0 ** (db / 20.0) * np.sqrt(np.mean(sound**2) / max(1e-20, float(np.mean(other**2))))
    return np.asarray(sound + share * other)


def _mix(into: Samples, at_s: float, sound: Samples) -> None:
    start = round(at_s * RATE_HZ)
    count = min(len(sound), len(into) - start)
    if count > 0:
        into[start : start + count] += sound[:count]


AS_LOUD_AS_IT_IS = frozenset({"faint", "clipped", "dc", "mp3"})
KINDS: Mapping[str, Callable[[Samples, Amounts, np.random.Generator, float], Samples]] = {
    "delay": _delay, "delay-in-time": _delay_in_time, "spring": _spring, "reverb": _reverb, "overdrive": _overdrive,
    "hum": _hum, "hiss": _hiss, "band": _band, "faint": _faint, "clipped": _clipped, "dc": _dc, "mp3": _mp3,
    "phone": _phone, "compressed": _compressed, "amplified": _amplified, "rig": _rig,
}  # fmt: skip
