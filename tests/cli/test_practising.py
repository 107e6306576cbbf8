"""Practice puts its parts together; what it does on real servers is tried in `tests/live/test_practice.py`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
import soundfile

from livecheck.cli import rest
from livecheck.cli.practising import Manner, Practising
from livecheck.cli.rest import REST
from livecheck.cli.stand import Broken, Ended, Stand
from livecheck.engine import Brief
from livecheck.lesson.plan import Plan
from livecheck.sources.backing import Backing
from livecheck.sources.library import lesson_tolerances, load_lesson


class Silent:
    """A stand on which nothing is ever played: it breaks off twice, then the player ends it."""

    rate_hz = 8_000
    label = "Silent"

    def __init__(self) -> None:
        self.counted_in: list[Any] = []

    def open(self) -> None: ...

    def count_in(self, click: Any) -> int:
        self.counted_in.append(click)
        return 0

    def until_played(self) -> int:
        raise Broken if len(self.counted_in) < 3 else Ended


def practise(
    folder: Path, stand: Silent, click: str = "count-in", tempo: float = 60.0, backing: Backing | None = None
) -> bool:
    lesson = load_lesson(str(folder / "lesson.toml"))
    if backing is not None:
        figures = tuple(replace(one, backing_s=at_s) for one, at_s in zip(lesson.figures, (4.0, 12.0), strict=True))
        lesson = replace(lesson, figures=figures, backing="band.wav")
    brief = Brief(lesson, lesson.figures, lesson_tolerances(lesson, "lesson.toml"))
    manner = Manner(cast(Any, click), "none", -20.0, 0.0, folder / "kept", backing=backing)
    return Practising(cast(Stand, stand), brief, Plan.begin(2, 90.0, tempo), manner).run()


def test_a_broken_attempt_is_announced_and_counted_in_anew(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stand = Silent()
    assert practise(folder, stand) is False
    assert capsys.readouterr().out == "\n1 at 60\nPlay.\n" * 3 + "\nEnded.\n"
    assert [click.until_start for click in stand.counted_in] == [4 * 8_000] * 3, "a bar of four at 60"
    assert not (folder / "kept").exists(), "nothing was played"


def test_a_click_all_through_lasts_as_long_as_the_attempt_may(folder: Path) -> None:
    short, long = Silent(), Silent()
    practise(folder, short)
    practise(folder, long, "all")
    assert len(short.counted_in[0].samples) == 4 * 8_000
    assert len(long.counted_in[0].samples) > (4 + 8) * 8_000


def test_a_rest_is_suggested_when_it_is_time(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    practise(folder, Silent())
    assert REST not in capsys.readouterr().out
    monkeypatch.setattr(rest, "REST_AFTER_S", 0.0)
    practise(folder, Silent())
    assert capsys.readouterr().out.count(f"\n{REST}\n\n1 at 60\n") == 3, "before each of the attempts"


def band(folder: Path) -> Backing:
    """Twenty seconds whose samples say where they are: the second, in hundredths of full scale."""
    seconds = np.repeat(np.arange(20) / 100.0, 8_000)
    soundfile.write(folder / "band.wav", seconds, 8_000, subtype="FLOAT")
    return Backing(str(folder / "band.wav"), 8_000, 20.0 * float(np.log10(0.19)))


def test_the_backing_is_played_from_a_bar_before_the_figure_with_the_count_in_over_it(folder: Path) -> None:
    stand = Silent()
    practise(folder, stand, "backing", 90.0, band(folder))
    click = stand.counted_in[0]
    bar = round(4 * 60.0 / 90.0 * 8_000)
    assert click.until_start == bar
    first = np.round(100.0 * click.samples[bar + 400 :: 8_000]).astype(int)
    assert first[:6].tolist() == [4, 5, 6, 7, 8, 9]
    assert np.round(100.0 * click.samples[400:bar:8_000])[2] == 3, "4 s into it less a bar, and so on"


def test_below_the_lessons_tempo_a_click_is_played_instead(folder: Path) -> None:
    with_backing, with_click = Silent(), Silent()
    practise(folder, with_backing, "backing", 60.0, band(folder))
    practise(folder, with_click, "all", 60.0)
    assert np.array_equal(with_backing.counted_in[0].samples, with_click.counted_in[0].samples)
