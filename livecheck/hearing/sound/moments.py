"""The moments of a recording, kept: each look at a figure asks for those of the look before."""

from __future__ import annotations

from livecheck.hearing.sound.moment import Moment, deep_frame_at, frames_at
from livecheck.hearing.sound.onset import Onset
from livecheck.hearing.sound.spectrum import Spectrogram

MOST = 1024
"""So many are kept, some tens of kilobytes each; the one that was not asked for longest goes first, to be worked out
again if it is."""


class Moments:
    """Those of one recording, of which what was asked about does not change any more."""

    def __init__(self) -> None:
        self._known: dict[tuple[Onset, int, int, int, int | None], Moment] = {}
        """By their onsets and the frames that they are made of, counted from the start of the recording."""

    def at(self, onset: Onset, until_s: float, spectra: Spectrogram, deep: Spectrogram | None) -> Moment:
        """The same as `Moment.at`."""
        before, first, last = (spectra.first + frame for frame in frames_at(onset, until_s, spectra))
        key = onset, before, first, last, None if deep is None else deep.first + deep_frame_at(onset, deep)
        moment = self._known.pop(key, None) or Moment.at(onset, until_s, spectra, deep)
        self._known[key] = moment
        if len(self._known) > MOST:
            del self._known[next(iter(self._known))]
        return moment
