"""A take as samples: its strings, the noise of bar and blocking hand, then the effect."""

from collections.abc import Callable

import numpy as np

from tests.holdout.effects import Effect, band_pass
from tests.holdout.playing import Take
from tests.holdout.sound import RATE, Sound, Wave

DAMPED_S = 0.03


def render(
    rng: np.random.Generator, take: Take, voice: Callable[[np.random.Generator, Sound], Wave], effect: Effect
) -> Wave:
    wave = np.zeros(int((take.end_s + 1) * RATE))
    for sound in take.sounds:
        part = voice(rng, sound)[: int((sound.end_s - sound.start_s) * RATE)]
        fade = min(int(DAMPED_S * RATE), len(part))
        part[len(part) - fade :] *= np.linspace(1, 0, fade)
        begin = int(sound.start_s * RATE)
        wave[begin : begin + len(part)] += sound.loudness * part
    noise = np.zeros(len(wave))
    for start_s, end_s in take.slides:
        begin, end = int(start_s * RATE), int(end_s * RATE)
        noise[begin:end] += rng.normal(0, 0.012, end - begin) * np.hanning(end - begin)
    wave += band_pass(noise, 1500, 6000)
    wet = effect(rng, wave)
    return np.asarray(wet * 0.5 / np.abs(wet).max(), np.float64)
