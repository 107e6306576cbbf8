"""Every pick in a take and the pitches that it struck, with no lesson to say.

In: the recording. Out: attacks in order of time. Attacks are told from slides, drums and what the room gives back by
how much begins at once, how much of that is in the partials of strings, and how loud it is. How many strings a hand
strikes is a habit: where the sound leaves that open (a string an octave above another hides behind it), what the player
did elsewhere in the take decides.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from livecheck.drafting.grip import Grip, grips_of
from livecheck.drafting.own import own_rises
from livecheck.drafting.repeats import lag_s, without_repeats
from livecheck.drafting.rolled import Attempt, rolled
from livecheck.drafting.struck import Attack
from livecheck.drafting.together import Together
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.onset import onsets
from livecheck.hearing.sound.partials import hz
from livecheck.hearing.sound.recording import Recording
from livecheck.hearing.sound.spectrum import spectrogram

WINDOW, SPECTRUM_HOP = 2048, 256
QUIET_DB = -40.0
SOON_S = 0.037
"""The rise of a string's own partials is looked for so long before and after the onset."""
LEVEL_WEIGHT, RISE_WEIGHT, NEW_WEIGHT, OWN_WEIGHT, SCORE_WEIGHT, BIAS = 0.3, 14.0, 2.0, 8.0, 11.0, -16.5
"""Odds of a pick (logistic regression on takes of the benchmark, rounded): level in dB below the take's loudest, share
of everything that rises at once, share that is new, share of the strings' own partials that rises at once, how well the
strings explain it."""
LEAST_SCORE = 0.4
"""What strings explain worse than this is no string, however suddenly it begins."""
CERTAIN = 3.0
"""Odds from which an attack may teach what an echo's lag is."""
HABIT_WEIGHT = 0.05
"""What a number of strings that is e times as common is worth in a grip's score."""
HIDING_FROM = 0.25
"""A hand that shows so many strikes at once of all strikes may strike strings that hide."""
HIDING_SHARE = 0.4
"""For each grip that shows so many seem to be one string alone, as the upper one hides behind the lower."""
MOST_STRINGS = 3
LEVEL_PARTIALS = 4


@dataclass(frozen=True)
class _Heard:
    moment: Moment
    grips: Sequence[Grip]
    odds: float


def attacks(recording: Recording, together: Together) -> tuple[list[Attack], float | None]:
    """All picks of a take, and the lag of an echo, in seconds, if it has one."""
    heard = [one for one in _heard(recording, together) if one.grips[0].score > LEAST_SCORE]
    seen = _seen(heard)
    if seen[2] + seen[3] >= HIDING_FROM * seen.total():
        heard = [_with_hidden(one) for one in heard]
    habit = _seen(heard)
    habit[1] = max(0, habit[1] - round(HIDING_SHARE * (habit[2] + habit[3])))
    part = Counter(
        {count: max(habit[more] for more in range(count, MOST_STRINGS + 1)) for count in range(1, MOST_STRINGS + 1)}
    )
    found = rolled(recording, [Attempt(_attack(one, habit), _attack(one, part)) for one in heard])
    lag = lag_s(recording, [attack for attack in found if attack.odds > CERTAIN])
    return (found, None) if lag is None else (without_repeats(found, lag), lag)


def _heard(recording: Recording, together: Together) -> list[_Heard]:
    found = onsets(recording)
    spectra = spectrogram(recording, 0.0, recording.duration_s, WINDOW, SPECTRUM_HOP)
    ends_s = [onset.time_s for onset in found[1:]] + [recording.duration_s]
    moments = [Moment.at(onset, end_s, spectra) for onset, end_s in zip(found, ends_s, strict=True)]
    loudest_db = max((moment.loud_db for moment in moments), default=0.0)
    heard = []
    for moment in moments:
        below_db = moment.loud_db - loudest_db
        if below_db > QUIET_DB and (grips := grips_of(moment, together, MOST_STRINGS)):
            own = _own_rise(recording, moment.onset.time_s, grips[0].midis)
            odds = LEVEL_WEIGHT * below_db + RISE_WEIGHT * moment.onset.rise + NEW_WEIGHT * grips[0].new
            odds += OWN_WEIGHT * own + SCORE_WEIGHT * grips[0].score + BIAS
            heard.append(_Heard(moment, grips, odds))
    return heard


def _seen(heard: Sequence[_Heard]) -> Counter[int]:
    """How many strings seem to be struck at once, where none of them hides."""
    return Counter(len(one.grips[0].midis) for one in heard if one.odds > 0.0 and not one.grips[0].hides)


def _with_hidden(heard: _Heard) -> _Heard:
    """The same for a hand that strikes more than one string, so that what seems to hide is there."""
    grips = [replace(grip, score=grip.score + grip.behind) for grip in heard.grips]
    return replace(heard, grips=sorted(grips, key=lambda grip: -grip.score))


def _own_rise(recording: Recording, time_s: float, midis: Sequence[float]) -> float:
    """The most that is new at once in the partials of some pitches near an onset."""
    return float(own_rises(recording, time_s - SOON_S, time_s + SOON_S, midis).max())


def _attack(heard: _Heard, habit: Counter[int]) -> Attack:
    def weighed(grip: Grip) -> float:
        return grip.score + HABIT_WEIGHT * float(np.log(habit[len(grip.midis)] + 1.0))

    best = sorted(heard.grips, key=lambda grip: -weighed(grip))
    margin = weighed(best[0]) - weighed(best[1]) if len(best) > 1 else 1.0
    levels_db = tuple(_level_db(heard.moment, midi) for midi in best[0].midis)
    return Attack(heard.moment.onset.time_s, best[0].midis, levels_db, heard.odds, margin)


def _level_db(moment: Moment, midi: float) -> float:
    """Of the strongest of the first partials."""
    bins = np.rint(float(hz(np.array(midi))) * np.arange(1, LEVEL_PARTIALS + 1) / moment.peaks.bin_hz).astype(int)
    around = np.clip(bins[:, None] + np.arange(-1, 2), 0, len(moment.after) - 1)
    return float(20.0 * np.log10(max(float(moment.after[around].max()), 1e-7)))
