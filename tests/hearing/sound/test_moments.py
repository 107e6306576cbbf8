"""Moments that are kept are those that would be worked out anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from livecheck.hearing.scene import Scene
from livecheck.hearing.sound import moments
from livecheck.hearing.sound.moment import Moment
from livecheck.hearing.sound.moments import Moments
from livecheck.hearing.sound.onset import onsets
from tests.hearing.played import Part, recorded

PART = Part.of("{ beat = 1, fret = 3, pick = [5, 6] }", "{ beat = 3, fret = 5, pick = [4, 5] }")
RECORDING = recorded(PART.strokes().values())


def _scene(known: Moments, later_s: float = 0.0) -> Scene:
    score = replace(PART.score, start_s=PART.score.start_s + later_s)
    return Scene(RECORDING, onsets(RECORDING), PART.copedent, score, known)


def _same(one: Moment, other: Moment) -> bool:
    alike = np.array_equal(one.before, other.before) and np.array_equal(one.after, other.after)
    return alike and np.array_equal(one.peaks.hz, other.peaks.hz) and one.onset == other.onset


@pytest.mark.parametrize("later_s", [0.0, 0.003, 0.25, -0.4, 0.9])
def test_scenes_that_share_moments_have_those_that_they_would_have_alone(later_s: float) -> None:
    known = Moments()
    _scene(known)
    shared, alone = _scene(known, later_s), _scene(Moments(), later_s)
    assert len(shared.moments) == len(alone.moments) > 0
    assert all(_same(one, other) for one, other in zip(shared.moments, alone.moments, strict=True))


def test_a_second_look_at_a_figure_has_the_moments_of_the_first() -> None:
    known = Moments()
    first, second = _scene(known), _scene(known, 0.02)
    kept = [one for one in second.moments if any(one is other for other in first.moments)]
    assert [round(one.onset.time_s) for one in kept if one.onset.rise > 0.2] == [1, 3]


def test_what_was_asked_of_a_moment_is_told_again() -> None:
    moment = _scene(Moments()).moments[-1]
    asked = [62.0, 64.5], [59.0], 60.0
    assert moment.evidences(*asked) == replace(moment).evidences(*asked)
    assert moment.evidences(*asked) is moment.evidences(*asked)
    assert moment.evidence(62.0, [59.0]) != moment.evidence(62.0, [50.0])


def test_no_more_are_kept_than_there_is_room_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(moments, "MOST", 1)
    known = Moments()
    shared, alone = _scene(known), _scene(Moments())
    assert all(_same(one, other) for one, other in zip(shared.moments, alone.moments, strict=True))
    last = shared.moments[-1]
    assert _scene(known).moments[-1] is not last
