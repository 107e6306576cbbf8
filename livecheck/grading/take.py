"""One take from a file against one lesson.

In: a path and what is asked of it. Out: the take with what was heard. A take that is longer than allowed is refused by
what its header says, before anything is unpacked, and again while it is unpacked, as headers lie.
"""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from livecheck.errors import Unusable
from livecheck.judging.brief import Brief
from livecheck.judging.spread import ONE_BY_ONE, Spread
from livecheck.judging.verdict import TakeVerdict
from livecheck.sources.audio_file import LONGEST_S

if TYPE_CHECKING:
    from livecheck.engine import AudioEngine, MidiEngine
    from livecheck.hearing.midi.input import MidiInput
    from livecheck.reports.played import PlayedTake


class Watch(Protocol):
    """Is told how far a take is read."""

    def at(self, done_s: float) -> None: ...

    def judging(self) -> None: ...


class Watcher(Protocol):
    """Begins to watch a take of a name and a length."""

    def __call__(self, name: str, total_s: float) -> AbstractContextManager[Watch]: ...


class _Nobody:
    def at(self, done_s: float) -> None:
        pass

    def judging(self) -> None:
        pass


def unwatched(name: str, total_s: float) -> AbstractContextManager[Watch]:  # noqa: ARG001 -- every watch is asked with both
    """Nobody watches."""
    return nullcontext(_Nobody())


@dataclass(frozen=True)
class Asked:
    """What is asked of a take, and how its file is to be read."""

    brief: Brief
    midi_input: MidiInput
    channel: int | None = None
    longest_s: float = LONGEST_S


def play(path: str, name: str, asked: Asked, watcher: Watcher = unwatched, spread: Spread = ONE_BY_ONE) -> PlayedTake:
    """Grade a take that is called `name`. Unusable if it cannot be used, is too long, or no figure is in it."""
    from livecheck.sources.take_file import is_midi

    if is_midi(path):
        return _play_midi(path, name, asked, watcher)
    return _play_audio(path, name, asked, watcher, spread)


def _play_audio(path: str, name: str, asked: Asked, watcher: Watcher, spread: Spread) -> PlayedTake:
    from livecheck.engine import AudioEngine
    from livecheck.keeping.aside import Aside
    from livecheck.sources.audio_file import open_audio

    audio = open_audio(path, asked.channel, asked.longest_s)
    engine = AudioEngine(asked.brief, audio.rate_hz, put_away=Aside(), spread=spread)
    heard = 0
    with watcher(path, audio.duration_s) as watch:
        for block in audio.blocks:
            engine.feed(block)
            heard += len(block)
            watch.at(heard / audio.rate_hz)
        watch.judging()
        try:
            verdict = engine.finish(name)
        except Unusable as error:
            raise Unusable("; ".join([str(error), *audio.notes])) from None
    return _played(verdict, engine, asked, audio.duration_s, audio.notes)


def _play_midi(path: str, name: str, asked: Asked, watcher: Watcher) -> PlayedTake:
    from livecheck.engine import MidiEngine
    from livecheck.sources.midi_file import read_midi

    midi = read_midi(path)
    if midi.duration_s > asked.longest_s:
        limit = f"{asked.longest_s / 60.0:g} minutes"
        raise Unusable(f"{path}: is longer than {limit}; wanted a take within that")
    engine = MidiEngine(asked.brief, asked.midi_input)
    with watcher(path, midi.duration_s) as watch:
        for time_s, message in midi.messages:
            engine.feed(time_s, message)
            watch.at(time_s)
        watch.judging()
        return _played(engine.finish(name), engine, asked, midi.duration_s, ())


def _played(
    verdict: TakeVerdict, engine: AudioEngine | MidiEngine, asked: Asked, duration_s: float, remarks: tuple[str, ...]
) -> PlayedTake:
    from livecheck.engine import AudioEngine
    from livecheck.hearing.sound.resample import WORK_RATE_HZ
    from livecheck.reports.played import PlayedFigure, PlayedTake

    figures = tuple(PlayedFigure(figure, tuple(engine.heard(figure))) for figure in verdict.figures)
    return PlayedTake(
        verdict,
        asked.brief.lesson,
        asked.brief.tolerances,
        figures,
        duration_s,
        engine.samples if isinstance(engine, AudioEngine) else None,
        WORK_RATE_HZ,
        remarks,
    )
