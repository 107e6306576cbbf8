"""A take that nobody ends."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import cast

import numpy as np
import pytest
import soundfile

from livecheck.cli import live_midi, rest
from livecheck.cli.live_audio import LiveAudio
from livecheck.cli.live_midi import LiveMidi
from livecheck.cli.rest import REST
from livecheck.cli.session import Session
from livecheck.engine import Brief
from livecheck.errors import NothingFound, Unusable
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.keeping.folder import NOTEBOOK
from livecheck.keeping.keeper import Keeper
from livecheck.keeping.notebook import Notebook
from livecheck.sources.driver_message import Block, Opened, Sent
from livecheck.sources.library import lesson_tolerances, load_input, load_lesson
from livecheck.sources.live_input import LOOK_S, LiveInput
from livecheck.sources.midi_file import read_midi
from tests.cli.call import write_midi

RATE_HZ, BLOCK = 48_000, 1024


class Clock:
    def __init__(self) -> None:
        self.now_s = 1000.0

    def monotonic(self) -> float:
        return self.now_s


class Forgotten:
    """Gives a take's messages, and then a turn a minute, for ever."""

    turn_s = LOOK_S

    def __init__(self, path: Path, clock: Clock) -> None:
        self._path = path
        self._clock = clock

    def events(self) -> Iterator[Sent | None]:
        before_s = 0.0
        for time_s, message in read_midi(str(self._path)).messages:
            if not message.is_meta:
                self._clock.now_s += time_s - before_s
                yield Sent(time_s - before_s, bytes(message.bytes()))
                before_s = time_s
        while True:
            self._clock.now_s += 60.0
            yield None


def forgotten(folder: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[TakeVerdict, Keeper]:
    """A session in which figure 2 is played, and then nothing any more."""
    clock = Clock()
    monkeypatch.setattr(live_midi, "time", clock)
    monkeypatch.setattr(rest, "time", clock)
    write_midi(folder, "two.mid", ("2",))
    lesson = load_lesson(str(folder / "lesson.toml"))
    brief = Brief(lesson, lesson.figures, lesson_tolerances(lesson, "lesson.toml"))
    keeper = Keeper(folder / "kept", "Rain", datetime(2026, 11, 25, tzinfo=UTC), lambda _: None)
    live = LiveMidi(brief, keeper, load_input("channel-per-string").for_strings(3))
    session = Session(live, Opened("Player (JACK)", None, None), keeper, None, None)
    verdict = session.play(cast("LiveInput", Forgotten(folder / "two.mid", clock)))
    keeper.close()
    return verdict, keeper


def test_a_take_of_midi_that_was_forgotten_ends_while_it_can_be_read(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    verdict, keeper = forgotten(folder, monkeypatch)
    assert [figure.found for figure in verdict.figures] == [False, True]
    assert "nothing has come for 29 minutes: the take ends here\n" in capsys.readouterr().err
    assert read_midi(keeper.path).messages, "it can be read"


@pytest.mark.parametrize(("error", "left"), [(Unusable, ["2"]), (NothingFound, [])])
def test_only_a_take_that_was_judged_takes_back_what_was_kept_while_it_was_played(
    folder: Path, monkeypatch: pytest.MonkeyPatch, error: type[Unusable], left: list[str]
) -> None:
    """A disk that does not give the take back says nothing of how it was played."""

    def failing(_: LiveMidi) -> TakeVerdict:
        raise error("as it may be")

    monkeypatch.setattr(LiveMidi, "finish", failing)
    with pytest.raises(error, match="as it may be"):
        forgotten(folder, monkeypatch)
    with closing(Notebook(folder / "kept" / NOTEBOOK)) as notebook:
        assert [attempt.figure for attempt in notebook.attempts("Rain")] == left


class Singing:
    """Gives a tone for some seconds."""

    turn_s = LOOK_S

    def events(self) -> Iterator[Block]:
        samples = (0.3 * np.sin(2.0 * np.pi * 220.0 / RATE_HZ * np.arange(10 * RATE_HZ))).astype(np.float32)
        for start in range(0, len(samples), BLOCK):
            yield Block(samples[start : start + BLOCK].tobytes(), 0)


def test_a_disk_that_fails_while_a_take_is_played_loses_nothing_that_has_come(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is asked again of the take so far, the disk does not give back; the file of the take is closed all the
    same."""

    def failing(live: LiveAudio) -> list[FigureVerdict]:
        if live.time_s >= 5.0:
            raise Unusable("the temporary file in which the take lies cannot be read back")
        return []

    monkeypatch.setattr(LiveAudio, "ended", failing)
    lesson = load_lesson(str(folder / "lesson.toml"))
    brief = Brief(lesson, lesson.figures, lesson_tolerances(lesson, "lesson.toml"))
    keeper = Keeper(folder / "kept", "Rain", datetime(2026, 11, 25, tzinfo=UTC), lambda _: None)
    live = LiveAudio(brief, keeper, RATE_HZ, 1)
    with pytest.raises(Unusable, match="cannot be read back"):
        Session(live, Opened("Player (JACK)", RATE_HZ, 1), keeper, None, None).play(cast("LiveInput", Singing()))
    keeper.close()
    assert len(soundfile.read(keeper.path)[0]) / RATE_HZ == pytest.approx(5.0, abs=2 * BLOCK / RATE_HZ)


def test_a_rest_is_suggested_when_a_figure_has_ended(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(rest, "REST_AFTER_S", 1.0)
    forgotten(folder, monkeypatch)
    assert capsys.readouterr().err.count(f"livecheck: {REST}\n") == 1
