"""What a rig and a room add to a dry take. Levels are against the take's own RMS."""

from collections.abc import Callable

import numpy as np

from tests.holdout.sound import RATE, Wave

Effect = Callable[[np.random.Generator, Wave], Wave]


def rms(wave: Wave) -> float:
    return float(np.sqrt(np.mean(wave**2)))


def filtered(wave: Wave, gain: Callable[[Wave], Wave]) -> Wave:
    """`gain` of frequency in Hz, without phase."""
    hertz = np.asarray(np.fft.rfftfreq(len(wave), 1 / RATE), np.float64)
    return np.asarray(np.fft.irfft(np.fft.rfft(wave) * gain(hertz), len(wave)), np.float64)


def band_pass(wave: Wave, low: float, high: float, order: int = 2) -> Wave:
    def gain(hertz: Wave) -> Wave:
        over, under = np.maximum(hertz, 1e-3) / low, hertz / high
        return np.asarray(1 / np.sqrt((1 + over ** (-2 * order)) * (1 + under ** (2 * order))), np.float64)

    return filtered(wave, gain)


def convolved(wave: Wave, tail: Wave) -> Wave:
    size = len(wave) + len(tail)
    return np.asarray(np.fft.irfft(np.fft.rfft(wave, size) * np.fft.rfft(tail, size), size)[: len(wave)], np.float64)


def dry(_: np.random.Generator, wave: Wave) -> Wave:
    return wave


def hum(rng: np.random.Generator, wave: Wave) -> Wave:
    time = np.arange(len(wave)) / RATE
    mains = float(rng.choice([50, 60]))
    buzz = sum(np.sin(2 * np.pi * mains * k * time + rng.uniform(0, 6)) / k for k in (1, 2, 3, 4, 5, 7))
    noise = np.asarray(buzz, np.float64) * 10 ** (-30 / 20) + rng.normal(0, 10 ** (-40 / 20), len(wave))
    return wave + rms(wave) * noise


def repeats(wave: Wave, delay: Wave, share: float, low_pass_hertz: float | None) -> Wave:
    out, repeat = wave.copy(), wave
    place = np.arange(len(wave))
    while share > 0.03:
        repeat = np.interp(place - delay, place, repeat, left=0.0)
        if low_pass_hertz is not None:
            repeat = band_pass(repeat, 60, low_pass_hertz, 1)
        out += share * repeat
        share *= 0.35
    return out


def echo(rng: np.random.Generator, wave: Wave) -> Wave:
    return repeats(wave, np.full(len(wave), round(rng.uniform(0.2, 0.6) * RATE)), float(rng.uniform(0.25, 0.45)), None)


def wow(rng: np.random.Generator, size: int, depth_s: float, hertz: float) -> Wave:
    return np.asarray(
        depth_s * RATE * np.sin(2 * np.pi * hertz * np.arange(size) / RATE + rng.uniform(0, 6)), np.float64
    )


def tape(rng: np.random.Generator, wave: Wave) -> Wave:
    delay = rng.uniform(0.25, 0.5) * RATE + wow(rng, len(wave), 0.0008, 0.9)
    return repeats(wave, delay, float(rng.uniform(0.25, 0.4)), 3000)


def room(rng: np.random.Generator, wave: Wave) -> Wave:
    time = np.arange(int(0.9 * RATE)) / RATE
    tail = rng.normal(0, 1, len(time)) * np.exp(-time * 6.9 / 0.7) * (time > 0.008)
    wet = convolved(wave, tail)
    return wave + wet * 0.35 * rms(wave) / rms(wet)


def spring(rng: np.random.Generator, wave: Wave) -> Wave:
    """Chirped repeats: a spring carries low frequencies slower as they near its cut-off."""
    size = int(2.0 * RATE)
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    spectrum = np.zeros(len(hertz), complex)
    for period_s in (0.033, 0.041):
        lag = period_s * (1 + 0.5 * np.minimum(hertz / 4500, 1) ** 2)
        turns = np.exp(-2j * np.pi * np.cumsum(lag) * (hertz[1] - hertz[0]))
        spectrum += turns / (1 + 0.85 * turns)
    tail = np.fft.irfft(spectrum * (hertz < 4500) * (hertz > 80), size) * np.exp(-np.arange(size) / RATE * 6.9 / 1.8)
    wet = convolved(wave, tail)
    return wave + wet * float(rng.uniform(0.25, 0.4)) * rms(wave) / rms(wet)


def comp(_: np.random.Generator, wave: Wave) -> Wave:
    hop = 240
    peaks = np.abs(wave[: len(wave) // hop * hop]).reshape(-1, hop).max(axis=1)
    level, levels = 0.0, []
    for peak in peaks:
        level += (peak - level) * (0.6 if peak > level else 0.04)
        levels.append(level)
    knee = rms(wave) * 0.7
    gain = np.maximum(np.array(levels) / knee, 1) ** -0.7
    return np.asarray(wave * np.interp(np.arange(len(wave)), np.arange(len(gain)) * hop, gain), np.float64)


def driven(wave: Wave, drive: float) -> Wave:
    hot = np.tanh(drive * wave / (4 * rms(wave)) + 0.1) - np.tanh(0.1)
    return band_pass(hot, 80, 4500, 2)


def amp(_: np.random.Generator, wave: Wave) -> Wave:
    return driven(wave, 3.0)


def rig(rng: np.random.Generator, wave: Wave) -> Wave:
    return hum(rng, spring(rng, driven(comp(rng, wave), 1.2)))


def band(rng: np.random.Generator, wave: Wave) -> Wave:
    time = np.arange(len(wave)) / RATE
    beat_s = rng.uniform(0.5, 0.8)
    since = time % beat_s
    kick = np.sin(2 * np.pi * 55 * since) * np.exp(-since * 18)
    hat = rng.normal(0, 0.4, len(time)) * np.exp(-(time % (beat_s / 2)) * 60)
    snare = rng.normal(0, 0.6, len(time)) * np.exp(-((time + beat_s) % (2 * beat_s)) * 20)
    chord = (time // (4 * beat_s)).astype(int)
    root = 36 + rng.integers(0, 12, int(chord.max()) + 1)[chord]
    hertz = 440 * 2 ** ((root - 69) / 12)
    phase = 2 * np.pi * np.cumsum(hertz) / RATE
    bass = (np.sin(phase) + 0.4 * np.sin(2 * phase)) * np.exp(-since * 2)
    pad = sum(np.sin(ratio * phase) for ratio in (4, 5, 6))
    music = kick + hat + snare + bass + 0.3 * np.asarray(pad, np.float64)
    return wave + music * rms(wave) / rms(music) * 10 ** (-20 / 20)


def phone(rng: np.random.Generator, wave: Wave) -> Wave:
    """A coder at a low rate leaves noise in the shape of the sound; here it is added per block, 30 dB below."""
    far = band_pass(room(rng, wave), 200, 7000, 3)
    level = np.sqrt(np.convolve(far**2, np.ones(1024) / 1024, "same").clip(0))
    return (
        far
        + band_pass(rng.normal(0, 1, len(far)) * level * 10 ** (-30 / 20), 200, 7000)
        + rng.normal(0, 0.008 * rms(far), len(far))
    )


def swells(rng: np.random.Generator, wave: Wave) -> Wave:
    times = np.arange(0, len(wave) / RATE + 2, 0.8)
    decibels = rng.uniform(-9, 0, len(times))
    return wave * 10 ** (np.interp(np.arange(len(wave)) / RATE, times, decibels) / 20)


def chorus(rng: np.random.Generator, wave: Wave) -> Wave:
    place = np.arange(len(wave))
    wet = np.interp(place - 0.012 * RATE - wow(rng, len(wave), 0.0012, 0.7), place, wave, left=0.0)
    return wave + 0.35 * wet


EFFECTS: dict[str, Effect] = {
    "dry": dry, "hum": hum, "echo": echo, "tape": tape, "room": room, "spring": spring, "comp": comp,
    "amp": amp, "rig": rig, "band": band, "phone": phone, "swells": swells, "chorus": chorus,
}  # fmt: skip
