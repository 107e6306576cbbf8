"""What the follower lets go of: the passages are those of one that keeps everything, and little is kept."""

from __future__ import annotations

import pickle
from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.hearing.heard import HeardNote
from livecheck.hearing.midi.glance import glances_of
from livecheck.hearing.sound.ear import Glance
from livecheck.hearing.sound.salience import GRID_MIDI, HOP_S
from livecheck.judging.places import follow
from livecheck.judging.places.follow import Follower
from livecheck.judging.places.passage import Passage
from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.sources.library import load_copedent
from tests.judging.midi_player import figure_of, lesson_of

LESSON = read_lesson(
    lesson_of(
        figure_of("one", 4, "beat = 1, fret = 3, pick = [5, 6]", "beat = 3, fret = 5, over = 0.5")
        + figure_of("two", 4, "beat = 1, fret = 8, pick = [4, 5]", 'beat = 2, down = ["A"]')
        + figure_of("three", 4, "beat = 1, fret = 10, pick = [6, 8]", 'beat = 4, block = "all"'),
        tempo=90,
    ),
    "lesson.toml",
    load_copedent,
)
FIGURES = [expect(figure, LESSON.copedent) for figure in LESSON.figures]
NEVER = 10**9


def silence(frames: int) -> Glance:
    nothing = np.zeros(frames, dtype=np.float32)
    return Glance(np.zeros((frames, len(GRID_MIDI)), dtype=np.float32), nothing, nothing, nothing)


def played(order: Sequence[int], pauses_s: Sequence[float], skip_beats: float = 0.0) -> list[Glance]:
    """Figures in some order with a pause before each; of the second half of each, so much is left out."""
    notes, at_s = [], 0.5
    for index, pause_s in zip(order, pauses_s, strict=True):
        at_s += pause_s
        for note in FIGURES[index].notes:
            begin, end = (
                at_s + (beat - 1.0 - skip_beats * (beat > 3.0)) * LESSON.beat_s
                for beat in (note.start_beat, note.end_beat)
            )
            times_s = np.arange(begin, end, 0.01)
            midis = note.midi_at((times_s - at_s) / LESSON.beat_s + 1.0)
            notes.append(HeardNote(note.string, begin, end, times_s, midis))
        at_s += (float(LESSON.figures[index].length) - skip_beats) * LESSON.beat_s
    return list(glances_of(notes))


def followed(glances: Sequence[Glance], every: int, forgiving: bool = False) -> tuple[list[Passage], Follower]:
    """Passages, and the follower, where it looks for what can be let go of after so many frames."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(follow, "SETTLE_FRAMES", every)
        follower = Follower(FIGURES, LESSON.beat_s, forgiving=forgiving)
        for glance in glances:
            follower.feed(glance)
    return follower.passages(), follower


def assert_same(some: Sequence[Passage], others: Sequence[Passage]) -> None:
    assert [(p.figure, p.support) for p in some] == [(p.figure, p.support) for p in others]
    for one, other in zip(some, others, strict=True):
        assert np.array_equal(one.times_s, other.times_s)
        assert np.array_equal(one.beats, other.beats)


@pytest.mark.parametrize("every", [5, follow.SETTLE_FRAMES])
@pytest.mark.parametrize("forgiving", [False, True])
@pytest.mark.parametrize(
    ("order", "pauses_s"),
    [
        ([0, 1, 2], [0.0, 0.0, 0.0]),
        ([0, 1, 2, 0, 1, 2], [1.0, 0.0, 12.0, 0.3, 6.0, 0.0]),
        ([0, 0, 1, 1, 1], [0.2, 0.0, 0.7, 0.0, 9.0]),
        ([2, 0, 2], [3.0, 0.0, 0.4]),
    ],
)
def test_passages_are_the_same_whatever_was_let_go_of(
    order: list[int], pauses_s: list[float], forgiving: bool, every: int
) -> None:
    glances = played(order, pauses_s)
    expected, _ = followed(glances, NEVER, forgiving)
    found, _ = followed(glances, every, forgiving)
    assert [passage.figure for passage in expected] == order
    assert_same(found, expected)


def test_a_figure_that_is_broken_off_or_goes_on_at_the_end_is_the_same() -> None:
    glances = played([0, 1, 2], [0.0, 0.5, 2.0], skip_beats=1.5)
    for frames in (40, 95, 150, 260):
        part = [Glance(*(part[:frames] for part in (g.contrast, g.purity, g.onset, g.loud))) for g in glances[:1]]
        assert_same(followed(part, 5)[0], followed(part, NEVER)[0])
    assert_same(followed(glances, 5)[0], followed(glances, NEVER)[0])


@pytest.mark.parametrize("every", [5, NEVER])
def test_those_since_a_time_are_those_of_all_that_began_then_or_later(every: int) -> None:
    _, follower = followed(played([0, 1, 2], [0.3, 0.0, 2.0]), every)
    every_one = follower.passages_since(0.0)
    begun_s = [float(passage.times_s[0]) for passage in every_one]
    assert len(begun_s) == 3
    for from_s in [*begun_s, *(begin_s + 0.4 * HOP_S for begin_s in begun_s), begun_s[-1] + 60.0]:
        later = [one for one, begin_s in zip(every_one, begun_s, strict=True) if begin_s >= from_s]
        assert_same(follower.passages_since(from_s), later)


def chance(seed: int) -> Iterator[Glance]:
    """Glances of nothing that ever sounded."""
    random = np.random.default_rng(seed)
    for _ in range(int(random.integers(1, 8))):
        frames = int(random.integers(1, 90))
        loud = (random.random(frames) < random.choice([0.0, 0.4, 1.0])).astype(np.float32)
        contrast = random.random((frames, len(GRID_MIDI))) ** random.choice([0.05, 0.3, 1.0])
        purity, onset = (random.random(frames) * by for by in (0.3, loud))
        yield Glance(*(part.astype(np.float32) for part in (contrast, purity, onset, loud)))


@settings(max_examples=25)
@given(seed=st.integers(0, 2**32 - 1), every=st.integers(1, 60), forgiving=st.booleans())
def test_chance_is_followed_the_same(seed: int, every: int, forgiving: bool) -> None:
    glances = list(chance(seed))
    assert_same(followed(glances, every, forgiving)[0], followed(glances, NEVER, forgiving)[0])


def kept(follower: Follower) -> int:
    """Frames of which something is kept for every position."""
    return len(follower._steps)  # noqa: SLF001 - memory is what this is about


def test_little_of_a_long_take_is_kept() -> None:
    """Five minutes of playing with pauses, then five of silence."""
    _, follower = followed([], follow.SETTLE_FRAMES)
    most = 0
    glances = played([0, 1, 2, 2] * 2, [0.0, 0.4, 3.0, 0.0] * 2)
    for _ in range(12):
        for glance in glances:
            follower.feed(glance)
            most = max(most, kept(follower))
    length_s = max(float(figure.length) for figure in LESSON.figures) * LESSON.beat_s
    most_allowed = 2 * (follow.SETTLE_FRAMES + length_s / HOP_S)
    assert most < most_allowed
    assert len(follower.passages()) == 12 * 8
    for _ in range(300):
        follower.feed(silence(50))
        assert kept(follower) < most_allowed


def test_what_is_settled_takes_little_more_than_a_byte_a_frame() -> None:
    """A take of an hour has 180,000 frames, in a thousand figures or two."""
    follower = Follower(FIGURES, LESSON.beat_s)
    for _ in range(4):
        for glance in [*played([0, 1, 2], [0.4, 3.0, 0.4]), *[silence(50)] * (2 * follow.SETTLE_FRAMES // 50)]:
            follower.feed(glance)
    settled = follower._settled  # noqa: SLF001 - memory is what this is about
    frames = sum(len(passage.times_s) for passage in follower.passages()[: len(settled)])
    assert len(settled) > 8
    assert len(pickle.dumps(settled)) < 1.2 * frames + 100 * len(settled)


def test_silence_is_followed_without_work(monkeypatch: pytest.MonkeyPatch) -> None:
    follower = Follower(FIGURES, LESSON.beat_s)
    for glance in played([0], [0.0]):
        follower.feed(glance)
    for _ in range(8):
        follower.feed(silence(100))
    monkeypatch.setattr(follower, "_chords", None)
    follower.feed(silence(100))
    assert len({id(steps) for steps in follower._steps[-100:]}) == 1  # noqa: SLF001 - no frame made anything of its own
    assert [passage.figure for passage in follower.passages()] == [0]
