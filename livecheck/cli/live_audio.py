"""A take of sound while it is played: blocks go to the file and to the engine, the same samples to both.

Time is the frames that have come, over the rate. What was lost is not in the take: it is shorter by that.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from livecheck.engine import AudioEngine, Brief
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.keeping.flac_take import as_kept
from livecheck.keeping.keeper import Keeper
from livecheck.sources.driver_message import Block, Sent
from livecheck.sources.live_input import LOOK_S

PAUSE_S = 2.0
"""The silence in the take for the time, however long, that a device was away: no figure goes on across it."""
QUIET_SHARE = np.float32(10.0 ** (-40.0 / 20.0))
"""Of the loudest block so far: 40 dB less is silence."""
LEAST_SOUND = np.float32(1e-4)
"""-80 dB under full scale: nothing has been played yet."""
OVER_CALM = 2.0
"""Strings that are no more than 6 dB above what is there though nobody plays are no longer heard over it."""
LEAST_FRAMES = 1
"""No observation waits for another: what has ended is to be told soon."""
DEAD_S = 15.0
"""An input that gives less than that for so long may not be plugged in."""


class LiveAudio:
    """`feed` what comes, `end` the take, `finish` gives the verdict."""

    def __init__(self, brief: Brief, keeper: Keeper, rate_hz: int, channels: int, calm: float = 0.0) -> None:
        """`calm`: the root mean square of what is there though nobody plays, hum for example."""
        keeper.begin_audio(rate_hz)
        self._engine = AudioEngine(brief, rate_hz, LEAST_FRAMES, keeper.aside())
        self._keeper = keeper
        self._rate_hz = rate_hz
        self._channels = channels
        self._frames = 0
        self._loudest = LEAST_SOUND
        self._least = max(LEAST_SOUND, np.float32(OVER_CALM * calm))
        self._sounded_at: int | None = None
        self.gaps_s: list[float] = []
        """Where something is missing."""
        self.overflows = 0
        """How often sound was lost because nobody was there in time to take it."""

    @property
    def time_s(self) -> float:
        return self._frames / self._rate_hz

    @property
    def quiet_s(self) -> float:
        """How long it has been silent since something was played; 0 before."""
        return 0.0 if self._sounded_at is None else (self._frames - self._sounded_at) / self._rate_hz

    @property
    def is_forgotten(self) -> bool:
        """Silence is sound that is kept: it may last."""
        return False

    @property
    def seems_dead(self) -> bool:
        """Whether nothing at all has come, for so long that the player should know."""
        return self._sounded_at is None and self.time_s >= DEAD_S

    def feed(self, block: Block | Sent) -> None:
        assert isinstance(block, Block)
        if block.overflows:
            self.overflows += block.overflows
            self.gaps_s.append(self.time_s)
        self._add(np.frombuffer(block.samples, dtype=np.float32)[self._channels - 1 :: self._channels])

    def pause(self) -> None:
        """The device has gone."""
        self.gaps_s.append(self.time_s)
        self._add(np.zeros(round(PAUSE_S * self._rate_hz), dtype=np.float32))

    def ended(self) -> Sequence[FigureVerdict]:
        """The figures that have ended since this was asked last, as they look so far."""
        return self._engine.ended()

    def certain(self) -> Sequence[Remark]:
        """What has become certain of the figure that is being played since this was asked last."""
        return self._engine.certain()

    @property
    def turn_s(self) -> float:
        """How soon to ask again though nothing comes."""
        return LOOK_S

    def end(self) -> None:
        self._keeper.end()

    def finish(self) -> TakeVerdict:
        return self._engine.finish(self._keeper.path)

    def _add(self, samples: np.ndarray[tuple[int], np.dtype[np.float32]]) -> None:
        kept = as_kept(samples)
        self._keeper.samples(kept)
        self._engine.feed(kept)
        self._frames += len(kept)
        loudness = np.sqrt(np.mean(kept * kept)) if len(kept) else np.float32(0.0)
        self._loudest = max(self._loudest, loudness)
        if loudness > max(self._loudest * QUIET_SHARE, self._least):
            self._sounded_at = self._frames
