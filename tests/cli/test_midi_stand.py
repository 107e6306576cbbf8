"""One attempt after the other on a MIDI port: where each begins and ends, by stand-ins for port, output and clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import mido
import numpy as np
import pytest

from livecheck.cli import live_midi, midi_stand, output_beside
from livecheck.cli.foot_switch import FootSwitch
from livecheck.cli.midi_stand import MidiStand
from livecheck.cli.stand import BEFORE_S, Broken, CountIn
from livecheck.cli.stop import Stop
from livecheck.engine import Brief
from livecheck.keeping.keeper import Keeper
from livecheck.lesson.span import Span
from livecheck.sources.driver_message import Begun, Opened, Sent
from livecheck.sources.library import lesson_tolerances, load_input, load_lesson
from livecheck.sources.live_input import Back, Event, LiveInput, Lost

RATE_HZ = 8_000
TURN_S = 0.01
SPAN = Span(sounding_s=5.0, broken_s=6.0, longest_s=9.0)
LATENCY_S = 0.05


class Clock:
    def __init__(self) -> None:
        self.now_s = 1000.0

    def monotonic(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.now_s += seconds


class Port:
    """Gives each message at its time after the clock's start, and turns in between, for ever."""

    turn_s = TURN_S

    def __init__(self, clock: Clock, messages: Sequence[tuple[float, mido.Message]]) -> None:
        self._clock = clock
        self._messages = messages

    def events(self) -> Iterator[Event | None]:
        began_s = before_s = self._clock.now_s
        for at_s, message in self._messages:
            while self._clock.now_s < began_s + at_s:
                self._clock.now_s += TURN_S
                yield None
            delta_s, before_s = self._clock.now_s - before_s, self._clock.now_s
            yield Sent(delta_s, bytes(message.bytes()))
        while True:
            self._clock.now_s += TURN_S
            yield None


class Aloud:
    """An output: tells when what it was given begins, and is pulled out or plugged in when that is said."""

    turn_s = TURN_S

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._waiting: list[Event] = []
        self.played: list[int] = []
        self.hushed = 0

    def play(self, samples: Any, _: int) -> None:
        self.played.append(len(samples))
        self._waiting.append(Begun(self._clock.now_s + LATENCY_S))

    def hush(self) -> None:
        self.hushed += 1

    def say(self, event: Event) -> None:
        self._waiting.append(event)

    def events(self) -> Iterator[Event | None]:
        while True:
            if self._waiting:
                yield self._waiting.pop(0)
            else:
                self._clock.now_s += self.turn_s
                yield None


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    for module in (midi_stand, live_midi, output_beside):
        monkeypatch.setattr(module, "time", clock)
    return clock


def stand_on(clock: Clock, *notes: tuple[float, float], aloud: Aloud | None = None) -> MidiStand:
    """`notes`: when each is struck, and how long it is held."""
    messages = [
        (at_s, mido.Message(kind, channel=number % 3, note=60))
        for number, (begins_s, lasts_s) in enumerate(notes)
        for at_s, kind in ((begins_s, "note_on"), (begins_s + lasts_s, "note_off"))
    ]
    return MidiStand(
        cast(LiveInput, Port(clock, messages)),
        Opened("Player", None, None),
        cast(Stop, SimpleNamespace(asked=False)),
        FootSwitch(None),
        load_input("channel-per-string").for_strings(3),
        None if aloud is None else (cast(LiveInput, aloud), Opened("Phones", RATE_HZ, 1)),
    )


def attempt(stand: MidiStand, folder: Path) -> float:
    """How long it lasted."""
    lesson = load_lesson(str(folder / "lesson.toml"))
    brief = Brief(lesson, lesson.figures, lesson_tolerances(lesson, "lesson.toml"))
    keeper = Keeper(folder / "kept", "Rain", datetime(2026, 11, 25, tzinfo=UTC), lambda _: None)
    try:
        return stand.attempt(brief, keeper, SPAN).time_s
    finally:
        keeper.close()


def silence(seconds: float) -> Any:
    return np.zeros(round(seconds * RATE_HZ), dtype=np.float32)


def test_an_attempt_ends_when_the_last_note_has(folder: Path, clock: Clock) -> None:
    stand = stand_on(clock, (1.0, 2.0), (3.2, 2.5))
    stand.until_played()
    assert attempt(stand, folder) == pytest.approx(4.7 + 0.8, abs=0.1)


@pytest.mark.parametrize("notes", [((1.0, 0.1),), ((1.0, 2.0), (3.5, 0.1))], ids=["at once", "in the middle"])
def test_a_knock_starts_over(folder: Path, clock: Clock, notes: Any) -> None:
    stand = stand_on(clock, *notes)
    stand.until_played()
    with pytest.raises(Broken):
        attempt(stand, folder)
    begins_s, lasts_s = notes[-1]
    assert clock.now_s - 1000.0 == pytest.approx(begins_s + lasts_s + 1.0, abs=0.1)


def test_a_count_in_begins_when_it_does_whatever_was_told_by_ear_before(clock: Clock) -> None:
    stand = stand_on(clock, aloud=Aloud(clock))
    stand.tell(silence(1.0))
    began_s = clock.now_s
    first = stand.count_in(CountIn(silence(2.0), 2 * RATE_HZ))
    assert first is not None
    assert first / RATE_HZ == pytest.approx(began_s - 1000.0 + LATENCY_S + 2.0, abs=0.001)
    assert clock.now_s == pytest.approx(began_s + LATENCY_S + 2.0 - BEFORE_S, abs=2 * TURN_S)


def test_whoever_plays_on_while_it_is_told_by_ear_is_listened_to(folder: Path, clock: Clock) -> None:
    aloud = Aloud(clock)
    stand = stand_on(clock, (1.0, 2.0), (3.2, 2.5), aloud=aloud)
    stand.tell(silence(3.0))
    assert aloud.hushed == 1
    assert stand.wait(2.0), "without a breath, without a count-in"
    assert clock.now_s - 1000.0 == pytest.approx(1.0, abs=0.1)
    stand.until_played()
    assert attempt(stand, folder) == pytest.approx(4.7 + 0.8, abs=0.1)


def test_an_output_that_is_pulled_out_is_told_and_used_again(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    aloud = Aloud(clock)
    stand = stand_on(clock, aloud=aloud)
    aloud.say(Lost())
    stand.wait(0.1)
    assert capsys.readouterr().err == "livecheck: Phones has gone; no click, nothing by ear until it is back\n"
    assert stand.count_in(CountIn(silence(2.0), 2 * RATE_HZ)) is None
    assert aloud.played == []
    aloud.say(Back())
    stand.wait(0.1)
    assert capsys.readouterr().err == "livecheck: Phones is back\n"
    assert stand.count_in(CountIn(silence(2.0), 2 * RATE_HZ)) is not None
    assert aloud.played == [2 * RATE_HZ]
