"""A lesson from lines: figures, beats, hands and feet, remarks."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.drafting.draft import Draft, draft
from livecheck.drafting.line import Line, Rest
from livecheck.lesson.expectation import expect
from livecheck.lesson.reading import read_lesson
from livecheck.lesson.writing import lesson_text
from livecheck.sources.library import load_copedent

E9 = load_copedent("e9-ten-string")
BEAT_S = 0.75
PHRASE = (
    Line(1.0, 3.9, (Rest(62.0, 1.0), Rest(64.0, 2.5, 0.3))),
    Line(1.0, 3.9, (Rest(59.0, 1.0), Rest(60.0, 2.5, 0.3))),
    Line(4.0, 5.5, (Rest(67.0, 4.0),)),
)


def shifted(lines: tuple[Line, ...], by_s: float) -> tuple[Line, ...]:
    return tuple(
        Line(
            one.start_s + by_s, one.end_s + by_s,
            tuple(Rest(rest.midi, rest.arrived_s + by_s, rest.over_s) for rest in one.rests),
        )
        for one in lines
    )  # fmt: skip


def drafted(lines: tuple[Line, ...], tempo: float | None = 80.0) -> Draft:
    found = draft(lines, E9, "e9-ten-string", "Kitchen table", tempo)
    assert found is not None
    return found


def test_the_lesson_sounds_as_what_was_played() -> None:
    (figure,) = drafted(PHRASE).lesson.figures
    notes = expect(figure, E9).notes
    told = sorted((note.start_beat, round(note.knots[0][1]), round(note.knots[-1][1])) for note in notes)
    assert told == [(1.0, 59, 60), (1.0, 62, 64), (5.0, 67, 67)]
    assert [step.beat for step in figure.steps] == [1, 3, 5]


def test_a_move_is_made_by_bar_and_pedals_on_the_same_strings() -> None:
    """B and D to C and E: the two pedals of the E9 neck (common practice, no source)."""
    first, move, *_ = drafted(PHRASE).lesson.figures[0].steps
    assert (first.pick, move.pick) == ((5, 6), ()) or move.is_move
    assert move.over == Fraction(1, 2)


def test_a_last_note_is_written_no_longer_than_it_was() -> None:
    """A figure lasts whole or half beats at least; a note that ends sooner is blocked there."""
    (figure,) = drafted((Line(1.0, 2.4, (Rest(64.0, 1.0),)), Line(2.5, 2.65, (Rest(67.0, 2.5),)))).lesson.figures
    last = figure.steps[-1]
    assert last.block is None
    assert last.beat - 3 <= Fraction(1, 4)


def test_a_string_that_died_away_is_not_blocked() -> None:
    """The other one rings on and is damped in the end."""
    gone = Line(1.0, 3.0, (Rest(62.0, 1.0),), damped=False)
    held = Line(1.0, 6.0, (Rest(59.0, 1.0), Rest(60.0, 5.0, 0.3)))
    for lines in ((gone, held), (gone,)):
        assert all(step.block == frozenset() for step in drafted(lines).lesson.figures[0].steps)
    blocked = drafted((replace(gone, damped=True), held)).lesson.figures[0].steps
    assert [bool(step.block) for step in blocked] == [False, True, False]


def test_strings_damped_on_one_beat_are_blocked_together() -> None:
    lines = (
        Line(1.0, 1.42, (Rest(62.0, 1.0),)),
        Line(1.0, 1.58, (Rest(59.0, 1.0),)),
        Line(2.5, 4.0, (Rest(67.0, 2.5),)),
    )
    assert [step.block for step in drafted(lines, 60.0).lesson.figures[0].steps] == [frozenset(), None, frozenset()]


def test_figures_are_cut_at_breaths() -> None:
    told = drafted((*PHRASE, *shifted(PHRASE, 6.0)))
    assert [figure.name for figure in told.lesson.figures] == ["1", "2"]
    assert told.starts_s == (1.0, 7.0)


def test_what_is_written_is_read_back_as_it_was() -> None:
    lesson = drafted((*PHRASE, *shifted(PHRASE, 6.0))).lesson
    assert read_lesson(lesson_text(lesson), "x.toml", lambda _: E9) == lesson


def test_a_take_out_of_tune_is_drafted_as_if_it_were_in_tune() -> None:
    flat = tuple(
        Line(one.start_s, one.end_s, tuple(Rest(r.midi - 0.3, r.arrived_s, r.over_s) for r in one.rests))
        for one in PHRASE
    )
    told = drafted(flat)
    assert round(told.tuning_cents) == -30
    assert told.lesson.figures == drafted(PHRASE).lesson.figures


def test_only_what_is_unsure_carries_a_remark() -> None:
    sure = drafted(PHRASE)
    assert sure.doubts == 0
    unsure = drafted((*PHRASE[:2], Line(4.0, 5.5, (Rest(67.0, 4.0),), odds=0.3)))
    assert [bool(step.remark) for step in unsure.lesson.figures[0].steps] == [False, False, True]
    assert "picked" in unsure.lesson.figures[0].steps[2].remark


def test_a_glide_that_bar_and_pedals_cannot_make_is_told() -> None:
    """Two strings that part by a seventh: no pedal does that."""
    lines = (
        Line(1.0, 3.9, (Rest(62.0, 1.0), Rest(70.0, 2.5, 0.3))),
        Line(1.0, 3.9, (Rest(59.0, 1.0), Rest(54.0, 2.5, 0.3))),
    )
    (figure,) = drafted(lines).lesson.figures
    assert "cannot take it" in " ".join(step.remark for step in figure.steps)


def test_nothing_is_drafted_from_nothing() -> None:
    assert draft((), E9, "e9-ten-string", "Nothing") is None


@st.composite
def any_lines(draw: st.DrawFn) -> tuple[Line, ...]:
    """Strings picked at any time and glided anywhere, as no hand could."""
    found = []
    for _ in range(draw(st.integers(1, 8))):
        start_s = draw(st.floats(0.0, 12.0))
        rests = [Rest(draw(st.floats(40.0, 90.0)), start_s)]
        at_s = start_s
        for _ in range(draw(st.integers(0, 3))):
            at_s += draw(st.floats(0.05, 1.5))
            rests.append(Rest(draw(st.floats(40.0, 90.0)), at_s, draw(st.floats(0.01, 1.0))))
        found.append(Line(start_s, at_s + draw(st.floats(0.06, 3.0)), tuple(rests)))
    return tuple(sorted(found, key=lambda line: line.start_s))


@settings(max_examples=40, deadline=None)
@given(any_lines())
def test_whatever_was_heard_becomes_a_lesson_that_can_be_read(lines: tuple[Line, ...]) -> None:
    told = draft(lines, E9, "e9-ten-string", "Anything")
    if told is not None:
        text = lesson_text(told.lesson)
        assert lesson_text(read_lesson(text, "x.toml", lambda _: E9)) == text


def test_a_silence_just_before_a_move_does_not_move_it() -> None:
    lines = (
        Line(1.0, 3.9, (Rest(62.0, 1.0), Rest(64.0, 2.5, 0.3))),
        Line(1.0, 2.45, (Rest(59.0, 1.0),)),
    )
    (figure,) = drafted(lines).lesson.figures
    assert [step.beat for step in figure.steps if step.pick or step.is_move] == [1, 3]
    (silence,) = (step for step in figure.steps if step.block)
    assert 1 < silence.beat < 3
    assert figure.steps[-1].over == Fraction(1, 2)
