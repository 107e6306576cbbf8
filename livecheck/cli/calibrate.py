"""`livecheck calibrate`: how long sound takes out of the machine and back into it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.output import put, say, show
from livecheck.cli.parser import counted, finite
from livecheck.cli.status import CLEAN
from livecheck.errors import Unusable

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from livecheck.cli.parser import Subparsers
    from livecheck.cli.stop import Stop
    from livecheck.sources.driver_message import Opened
    from livecheck.sources.live_input import LiveInput

SOON_S = 0.5
"""What is to be played is given so much ahead."""
LOOPS = 2
TEMPO = 90.0
COUNT_IN, ALONG = 4, 12
BEATS_A_BAR = 4
METHODS = ("loop", "along")


def add(subparsers: Subparsers) -> None:
    """Declare the command and its arguments."""
    parser = subparsers.add_parser(
        "calibrate",
        help="measure how long sound takes out of the machine and back",
        usage="livecheck calibrate [options]",
        description="Plays clicks and listens for them: by a cable from output to input, or by a loudspeaker that the "
        "input hears. If none comes back, you are asked to play along with the click on one string. What is measured "
        "is kept, and taken off whenever you play against a click.",
        epilog="Exit status: 0 it was measured; 2 it could not be.",
    )
    parser.add_argument("--device", metavar="NAME", help="the audio input: its name, or a part of it")
    parser.add_argument("--rate", dest="rate_hz", type=counted, metavar="HZ", help="the device's sample rate")
    parser.add_argument("--channel", type=counted, metavar="N", help="the only channel of the sound to hear, from 1")
    parser.add_argument(
        "--level", dest="level_db", type=finite, metavar="DB", help="how loud the click is, below full scale (-20)"
    )
    parser.add_argument(
        "--by", choices=METHODS, help="loop: only by clicks that come back; along: only by playing along with them"
    )
    parser.add_argument("--keep", metavar="FOLDER", help="where it is kept")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Measure, keep, tell; the exit status."""
    from livecheck.cli.stop import Stop
    from livecheck.keeping.folder import check_place, default_folder
    from livecheck.keeping.latency import keep_latency_ms
    from livecheck.sources.click import CAUTION, LEVEL_DB
    from livecheck.sources.driver_message import Wanted
    from livecheck.sources.live_input import LiveInput

    level_db = LEVEL_DB if args.level_db is None else args.level_db
    if level_db > 0.0:
        raise Unusable(f"--level is {level_db:g}; wanted decibels below full scale, such as {LEVEL_DB:g}")
    folder = default_folder() if args.keep is None else Path(args.keep)
    try:
        check_place(folder)
    except OSError as error:
        raise Unusable(f"{folder}: it cannot be kept there ({error.strerror}); wanted a folder to write to") from None
    wanted = Wanted("audio", args.device, args.rate_hz, args.channel or 1, speaks=True)
    with LiveInput(wanted) as source, Stop() as stop:
        opened = source.open()
        say(CAUTION)
        say(f"listening to {opened.label} at {opened.rate_hz} Hz; Ctrl-C ends it")
        conversation = _Conversation(source, opened, stop)
        latency_s, how = _measured(conversation, args.by, level_db)
        assert opened.rate_hz is not None
        try:
            path = keep_latency_ms(folder, opened.label, opened.rate_hz, 1000.0 * latency_s)
        except OSError as error:
            raise Unusable(f"{folder}: it cannot be kept ({error.strerror}); wanted a folder to write to") from None
    put(f"Latency: {1000.0 * latency_s:.1f} ms out and back, {how}.\nKept: {path}\n")
    return CLEAN


class _Conversation:
    """Plays something and gives what was heard meanwhile, frame by frame from its beginning on."""

    def __init__(self, source: LiveInput, opened: Opened, stop: Stop) -> None:
        assert opened.rate_hz is not None
        assert opened.channels is not None
        self.rate_hz = opened.rate_hz
        self._source = source
        self._label = opened.label
        self._channels = opened.channels
        self._stop = stop
        self._blocks = self._heard()
        next(self._blocks)

    def play(self, samples: NDArray[np.float32], tail_s: float) -> NDArray[np.float32]:
        """What was heard while it was played and for some time after."""
        import numpy as np

        while self._source.is_behind:  # it came while this program was at work
            next(self._blocks)
        begin = self._source.frames + round(SOON_S * self.rate_hz)
        end = begin + len(samples) + round(tail_s * self.rate_hz)
        self._source.play(samples, begin)
        heard = [np.empty(0, dtype=np.float32)]
        while (first := self._source.frames) < end:
            block = next(self._blocks)
            heard.append(block[max(begin - first, 0) : end - first])
        return np.concatenate(heard)

    def _heard(self) -> Iterator[NDArray[np.float32]]:
        import numpy as np

        from livecheck.sources.driver_message import Block
        from livecheck.sources.live_input import Lost

        for event in self._source.events():
            if isinstance(event, Block):
                yield np.frombuffer(event.samples, dtype=np.float32)[self._channels - 1 :: self._channels]
            elif isinstance(event, Lost):
                raise Unusable(f"{self._label} has gone; wanted one that stays until it is measured")
            if self._stop.asked:
                raise KeyboardInterrupt


def _measured(conversation: _Conversation, by: str | None, level_db: float) -> tuple[float, str]:
    """Seconds, and how they were measured."""
    if by != "along" and (latency_s := _by_loop(conversation, level_db)) is not None:
        return latency_s, "by clicks that came back"
    if by == "loop":
        raise Unusable("no click came back; wanted a cable from output to input, or a loudspeaker that the input hears")
    if (latency_s := _by_playing_along(conversation, level_db)) is not None:
        return latency_s, "by playing along, so your own hands are in it"
    raise Unusable("no click came back, and no steady playing along was heard; wanted one pick on each click")


def _by_loop(conversation: _Conversation, level_db: float) -> float | None:
    from livecheck.hearing.sound.latency import LONGEST_S, loop_latency_s
    from livecheck.sources.click import ruler

    played = ruler(conversation.rate_hz, level_db)
    for _ in range(LOOPS):
        heard = conversation.play(played, LONGEST_S)
        latency_s = loop_latency_s(played, heard, conversation.rate_hz)
        if latency_s is not None:
            return latency_s
    return None


def _by_playing_along(conversation: _Conversation, level_db: float) -> float | None:
    from livecheck.hearing.sound.latency import along_latency_s
    from livecheck.hearing.sound.onset import onsets
    from livecheck.hearing.sound.recording import Recording
    from livecheck.hearing.sound.resample import Resampler
    from livecheck.reports.large import Large
    from livecheck.sources.click import beat_frames, clicks

    if sys.stdout.isatty():
        show(Large("play along"))
    put(f"Play along with the click: one string, one pick on each, after {COUNT_IN} of them.\n")
    rate_hz, beats = conversation.rate_hz, COUNT_IN + ALONG
    heard = conversation.play(clicks(beats, TEMPO, BEATS_A_BAR, rate_hz, level_db), 0.5)
    recording, resampler = Recording(), Resampler(rate_hz)
    recording.append(resampler.feed(heard))
    recording.append(resampler.finish())
    clicks_s = [frame / rate_hz for frame in beat_frames(beats, TEMPO, rate_hz)][COUNT_IN:]
    return along_latency_s(clicks_s, [onset.time_s for onset in onsets(recording)], 60.0 / TEMPO)
