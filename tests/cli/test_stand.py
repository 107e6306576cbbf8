"""One attempt after the other on a device: where each begins and ends, by a stand-in for the device."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from livecheck.cli.foot_switch import FootSwitch
from livecheck.cli.stand import BEFORE_S, SOON_S, Broken, CountIn, Ended, Stand
from livecheck.cli.stop import Stop
from livecheck.engine import Brief
from livecheck.keeping.keeper import Keeper
from livecheck.lesson.span import Span
from livecheck.sources.driver_message import Block, Opened
from livecheck.sources.library import lesson_tolerances, load_lesson
from livecheck.sources.live_input import Back, Event, LiveInput, Lost

RATE_HZ = 8_000
BLOCK = 80
SPAN = Span(sounding_s=1.0, broken_s=2.0, longest_s=4.0)


class Device:
    """What a `LiveInput` would give: a level for each stretch of time, or an event."""

    def __init__(self, *parts: tuple[float, float] | Event) -> None:
        self.frames = 0
        self.behind = 0
        """So many frames have been heard already that are not looked at yet."""
        self.played: list[tuple[int, int]] = []
        self.hushed = 0
        self._parts = parts

    @property
    def is_behind(self) -> bool:
        return self.behind > self.frames

    def play(self, samples: NDArray[np.float32], at: int) -> None:
        self.played.append((at, len(samples)))

    def hush(self) -> None:
        self.hushed += 1

    def events(self) -> Iterator[Event | None]:
        for part in self._parts:
            if not isinstance(part, tuple):
                yield part
                continue
            seconds, level = part
            for _ in range(round(seconds * RATE_HZ / BLOCK)):
                self.frames += BLOCK
                samples = level * np.sin(np.arange(BLOCK) * 0.3).astype(np.float32)
                yield Block(samples.astype(np.float32).tobytes(), 0)
                yield None


class Foot:
    """Pressed at each of some questions."""

    def __init__(self, *pressed: int) -> None:
        self._pressed, self._asked = pressed, 0

    def pressed(self) -> bool:
        self._asked += 1
        return self._asked in self._pressed


def stand_on(device: Device, foot: Foot | None = None, stop: bool = False) -> Stand:
    opened = Opened("Device", RATE_HZ, 1)
    stopped = cast(Stop, SimpleNamespace(asked=stop))
    return Stand(cast(LiveInput, device), opened, stopped, cast(FootSwitch, foot or Foot()))


@pytest.fixture
def brief(folder: Path) -> Brief:
    lesson = load_lesson(str(folder / "lesson.toml"))
    return Brief(lesson, lesson.figures, lesson_tolerances(lesson, "lesson.toml"))


def keeper(folder: Path) -> Keeper:
    return Keeper(folder / "kept", "Rain", datetime(2026, 11, 25, tzinfo=UTC), lambda _: None)


def test_an_attempt_begins_shortly_before_its_first_sound_and_ends_in_silence(folder: Path, brief: Brief) -> None:
    stand = stand_on(Device((1.5, 0.0), (1.2, 0.2), (5.0, 0.0)))
    first = stand.until_played()
    assert first / RATE_HZ == pytest.approx(1.5 - BEFORE_S, abs=0.03)
    keep = keeper(folder)
    live = stand.attempt(brief, keep, SPAN)
    keep.close()
    assert live.time_s == pytest.approx(BEFORE_S + 1.2 + 0.8, abs=0.05)
    assert soundfile.info(keep.path).duration == pytest.approx(live.time_s, abs=0.001)


def test_an_attempt_that_never_falls_silent_ends_all_the_same(folder: Path, brief: Brief) -> None:
    stand = stand_on(Device((1.0, 0.0), (60.0, 0.2)))
    stand.until_played()
    assert stand.attempt(brief, keeper(folder), SPAN).time_s == pytest.approx(SPAN.longest_s + BEFORE_S, abs=0.05)


@pytest.mark.parametrize("before", [(), ((0.6, 0.2), (0.4, 0.0))], ids=["at once", "in the middle"])
def test_a_knock_on_damped_strings_starts_over(folder: Path, brief: Brief, before: Any) -> None:
    long = replace(SPAN, sounding_s=5.0, broken_s=4.0, longest_s=9.0)
    for span, starts_over in ((long, True), (replace(long, rest_s=3.0), False)):
        stand = stand_on(device := Device((1.0, 0.0), *before, (0.1, 0.2), (9.0, 0.0)))
        stand.until_played()
        if starts_over:
            with pytest.raises(Broken):
                stand.attempt(brief, keeper(folder), span)
            assert device.frames / RATE_HZ == pytest.approx(1.1 + sum(one for one, _ in before) + 1.0, abs=0.05)
        else:
            assert stand.attempt(brief, keeper(folder), span).time_s > 4.0, "where such rests are written it is none"


def test_a_string_that_rings_before_silence_is_no_knock(folder: Path, brief: Brief) -> None:
    long = replace(SPAN, sounding_s=5.0, broken_s=4.0, longest_s=9.0)
    stand = stand_on(Device((1.0, 0.0), (0.1, 0.2), (0.1, 0.0), (0.5, 0.2), (9.0, 0.0)))
    stand.until_played()
    assert stand.attempt(brief, keeper(folder), long).time_s == pytest.approx(0.3 + 0.7 + 4.0, abs=0.05)


def test_an_attempt_ends_over_hum_and_is_then_told_by_ear(folder: Path, brief: Brief) -> None:
    """Hum 18 dB below the strings."""
    stand = stand_on(Device((1.5, 0.025), (1.2, 0.2), (9.0, 0.025)))
    stand.until_played()
    live = stand.attempt(brief, keeper(folder), SPAN)
    assert live.time_s == pytest.approx(BEFORE_S + 1.2 + 0.8, abs=0.05)
    assert stand.until_quiet(6.0)


def test_hum_is_no_beginning_and_a_string_over_it_is(folder: Path) -> None:
    stand = stand_on(Device((3.0, 0.02), (1.0, 0.2)))
    assert stand.until_played() / RATE_HZ == pytest.approx(3.0 - BEFORE_S, abs=0.03)
    with pytest.raises(Ended):
        stand_on(Device((0.1, 0.02), (3.0, 0.02))).until_played()
    assert folder.is_dir()


def test_a_count_in_is_given_ahead_and_its_first_beat_is_known() -> None:
    device = Device((3.0, 0.0))
    stand = stand_on(device)
    start = stand.count_in(CountIn(np.zeros(1_000, dtype=np.float32), 8_000))
    ((at, length),) = device.played
    assert (at, length, start) == (round(SOON_S * RATE_HZ), 1_000, at + 8_000)
    assert device.frames == pytest.approx(start - BEFORE_S * RATE_HZ, abs=BLOCK)


def test_what_came_while_something_was_reckoned_makes_no_count_in_too_late() -> None:
    device = Device((9.0, 0.0))
    stand = stand_on(device)
    for begins_s in (2.0, 5.0):
        device.behind = round(begins_s * RATE_HZ)
        start = stand.count_in(CountIn(np.zeros(1_000, dtype=np.float32), 8_000))
        assert device.played[-1][0] == start - 8_000 == round((begins_s + SOON_S) * RATE_HZ)
    device.behind = round(7.0 * RATE_HZ)
    stand.tell(np.zeros(800, dtype=np.float32))
    assert device.played[-1][0] == round((7.0 + SOON_S) * RATE_HZ)


def test_what_is_told_by_ear_waits_for_silence_or_gives_up() -> None:
    assert stand_on(Device((1.0, 0.3), (2.0, 0.0))).until_quiet(6.0)
    assert not stand_on(Device((10.0, 0.3))).until_quiet(6.0)
    device = Device((2.0, 0.0))
    stand_on(device).tell(np.zeros(800, dtype=np.float32))
    assert device.frames >= device.played[0][0] + 800


@pytest.mark.parametrize(
    ("parts", "foot", "plays_on", "seconds"),
    [
        (((5.0, 0.0),), Foot(), False, 1.5),
        (((5.0, 0.0),), Foot(7), False, 0.06),
        (((0.5, 0.0), (1.0, 0.2)), Foot(), True, 0.5),
        (((2.0, 0.2),), Foot(), False, 1.5),
    ],
    ids=["nothing", "foot switch", "playing on", "still ringing"],
)
def test_a_breath_is_cut_short_by_foot_or_by_playing_on(parts: Any, foot: Foot, plays_on: bool, seconds: float) -> None:
    device = Device(*parts)
    assert stand_on(device, foot).wait(1.5) is plays_on
    assert device.frames / RATE_HZ == pytest.approx(seconds, abs=0.02)


def test_the_foot_switch_starts_over(folder: Path, brief: Brief) -> None:
    with pytest.raises(Broken):
        stand_on(Device((5.0, 0.0)), Foot(20)).until_played()
    stand = stand_on(Device((1.0, 0.0), (9.0, 0.2)), Foot(150))
    stand.until_played()
    with pytest.raises(Broken):
        stand.attempt(brief, keeper(folder), SPAN)


def test_a_device_that_goes_breaks_the_attempt_and_the_player_may_end_it(
    folder: Path, brief: Brief, capsys: pytest.CaptureFixture[str]
) -> None:
    stand = stand_on(Device((1.0, 0.0), (0.5, 0.2), Lost(), Back(), (9.0, 0.0)))
    stand.until_played()
    with pytest.raises(Broken):
        stand.attempt(brief, keeper(folder), SPAN)
    stand.open()
    assert (
        capsys.readouterr().err == "livecheck: Device has gone; waiting for it\nlivecheck: Device is back; once more\n"
    )
    with pytest.raises(Ended):
        stand_on(Device((1.0, 0.0)), stop=True).open()


def test_a_device_that_goes_and_comes_back_before_its_first_sound_is_waited_for() -> None:
    stand = stand_on(Device(Lost(), Back(), (1.0, 0.0)))
    stand.open()
    assert stand.wait(0.5) is False


def test_the_click_ends_with_the_attempt(folder: Path, brief: Brief) -> None:
    device = Device((2.0, 0.0), (1.2, 0.2), (5.0, 0.0))
    stand = stand_on(device)
    stand.count_in(CountIn(np.zeros(40_000, dtype=np.float32), 8_000))
    stand.until_played()
    assert device.hushed == 0
    stand.attempt(brief, keeper(folder), SPAN)
    assert device.hushed == 1
