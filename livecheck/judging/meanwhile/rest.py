"""Where a pitch that is told by its changes comes to rest.

In: changes as (time in s, MIDI number), in order of time, each in force until the next, and the time up to which that
is known. An instrument may send the same pitch again and again, or a little jitter: that is rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

Change = tuple[float, float]
STEADY_SEMITONES = 0.03


def rests(changes: Sequence[Change], until_s: float) -> Iterator[tuple[Change, float]]:
    """Every pitch that is kept for a while, be it a moment, and for how long in s."""
    since_s, midi = changes[0]
    for time_s, now in changes[1:]:
        if abs(now - midi) > STEADY_SEMITONES:
            yield (since_s, midi), time_s - since_s
            since_s, midi = time_s, now
    yield (since_s, midi), until_s - since_s


def middle(changes: Sequence[Change], until_s: float) -> float:
    """The pitch above which it is as long as below: the centre of a vibrato."""
    ends_s = [*(time_s for time_s, _ in changes[1:]), until_s]
    spans = sorted((midi, end_s - time_s) for (time_s, midi), end_s in zip(changes, ends_s, strict=True))
    left_s = sum(lasts_s for _, lasts_s in spans) / 2.0
    for midi, lasts_s in spans:
        left_s -= lasts_s
        if left_s <= 0.0:
            return midi
    return spans[-1][0]
