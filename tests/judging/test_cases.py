"""Takes on which a verdict went wrong once, cut down to the figures around that, with what is right.

Made by `tests.bench` from a free sound font's guitars (FluidR3 GM).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
import soundfile

from livecheck.engine import AudioEngine, Brief
from livecheck.judging.verdict import FigureVerdict
from livecheck.sources.library import load_lesson, load_tolerances

CASES = Path(__file__).parent / "cases"


@cache
def _found(name: str) -> dict[str, FigureVerdict]:
    """The figures found, by their names."""
    lesson = load_lesson(str(CASES / f"{name}.toml"))
    samples, rate_hz = soundfile.read(CASES / f"{name}.ogg", dtype="float32")
    engine = AudioEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), rate_hz)
    engine.feed(samples)
    return {figure.figure.name: figure for figure in engine.finish(name).figures if figure.found}


def test_the_tempo_is_seen_where_the_strings_fade_too_fast_to_follow() -> None:
    """48 beats a minute where 62 are written, on an acoustic guitar: the way through each figure is twice as fast."""
    beats_s = {name: 60.0 / (figure.tempo or 0.0) for name, figure in _found("hurried-through").items()}
    assert beats_s == {name: pytest.approx(1.25, rel=0.01) for name in ("1", "2", "3")}


@pytest.mark.parametrize(
    ("name", "figures"),
    [
        # A wrong string all through a figure of one pick and four moves: its moves fit the next step better.
        ("shifted-by-a-step", ["4", "5", "6"]),
        # A figure begun with a pedal up and left by long moves: the way into it was found half a second late.
        ("entered-late", ["3", "4", "5"]),
        # The way of the figure after it had taken it in.
        ("taken-in-by-the-next", ["4", "5", "6"]),
    ],
)
def test_no_figure_is_lost(name: str, figures: list[str]) -> None:
    assert list(_found(name)) == figures


def test_a_grip_played_as_the_one_before_it_does_not_shift_the_figure() -> None:
    """The second grip is struck a fret too high, which gives the three pitches of the first."""
    checkpoints = _found("taken-for-the-step-before")["4"].checkpoints
    assert [(c.step, c.string, c.faults) for c in checkpoints if c.faults] == [
        (2, string, ("wrong-note",)) for string in (4, 6, 8)
    ]


def test_of_two_lines_that_a_figure_may_lie_on_it_lies_on_the_one_that_fewer_mistakes_explain() -> None:
    """Its second string is struck again as long after its pick as the first pick is late, and picks tell more than the
    ends of glides: three moves that came in time were told to be early."""
    figure = _found("begun-late-then-struck-again")["5"]
    assert [(c.step, c.faults) for c in figure.checkpoints if c.faults] == [(1, ("late",))]
    assert [(extra.fault, extra.string) for extra in figure.extras] == [("extra-pick", 3)]


def test_a_figure_lies_where_its_picks_agree() -> None:
    """Three picks of one string, the third wrongly at the pitch of the first two: of two places two are seen each."""
    checkpoints = _found("a-step-late-among-equals")["4"].checkpoints
    assert [c.faults for c in checkpoints] == [("flat",), (), ("wrong-note",)]


def test_the_first_of_equal_notes_was_wrong_where_the_others_are_all_there() -> None:
    """Four picks of one note, the first on the next string: they were counted from the second, and the fourth was
    missed. What was struck where the figure should begin speaks for its being one of them."""
    checkpoints = _found("first-of-equals-wrong")["1"].checkpoints
    assert [(c.step, c.faults) for c in checkpoints if c.faults] == [(1, ("wrong-note",))]
    assert all(c.judged for c in checkpoints)


def test_the_first_of_equal_notes_was_left_out_where_the_last_would_come_too_early() -> None:
    """Five picks at one pitch on two strings and one of another; the first was left out, the third was wrong."""
    checkpoints = _found("first-of-equals-left-out")["5"].checkpoints
    assert [(c.step, c.faults) for c in checkpoints if c.faults] == [(1, ("missed",)), (3, ("wrong-note",))]


def test_what_was_struck_where_a_figure_begins_speaks_against_its_beginning_later() -> None:
    """Six picks of two strings, the first of one string only: laid a beat later they left that one unexplained, which
    was not heard from there. The figure was begun once more, and given up."""
    checkpoints = _found("first-of-equals-by-half")["4"].checkpoints
    assert [(c.step, c.string, c.faults) for c in checkpoints if c.faults] == [
        (1, 1, ("missed",)), (4, 1, ("cut-short",)), (4, 9, ("cut-short",))
    ]  # fmt: skip


def test_where_the_picks_do_not_tell_what_is_heard_does() -> None:
    """Of two picks at one pitch the first was left out: the other is seen wherever it is taken for either."""
    checkpoints = _found("first-of-two-alike-missed")["5"].checkpoints
    assert [c.faults for c in checkpoints] == [("missed",), (), (), ()]


def test_strings_faded_in_and_then_struck_were_struck_again() -> None:
    """The first attack that is heard is not how they began."""
    extras = _found("faded-in-then-struck")["5"].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-pick", 3), ("extra-pick", 5)]


def test_where_the_lower_of_an_octave_is_struck_again_louder_the_upper_is_not() -> None:
    """Both were faded in: what they share is louder than it was then, but by far less than the lower one's own."""
    extras = _found("the-lower-of-an-octave-again")["4"].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-pick", 8)]


def test_strings_struck_again_and_damped_one_after_the_other_were_struck_again() -> None:
    """The first of the grip is damped an eighth of a second after its second attack, before the others."""
    extras = _found("damped-one-after-the-other")["6"].extras
    assert {extra.string for extra in extras if extra.fault == "extra-pick"} >= {4, 6}


def test_a_wrong_note_s_partials_do_not_speak_for_the_string_beside_it() -> None:
    """Two strings struck four frets low: the lower one's third partial lies where the upper one was asked for."""
    checkpoints = _found("grip-at-the-bar-before")["2"].checkpoints
    assert [(c.string, c.faults, c.cause) for c in checkpoints if c.step == 3] == [
        (string, ("wrong-note",), "picked with the bar still at 3") for string in (3, 7)
    ]


def test_strings_that_the_bar_takes_down_an_octave_are_followed_there() -> None:
    """All that each of them gave before is in it still, as every other one of its partials."""
    checkpoints = _found("down-an-octave")["2"].checkpoints
    assert [(c.string, c.faults) for c in checkpoints if c.step == 3] == [(8, ()), (10, ())]


def test_a_rolled_grip_two_frets_high_is_wrong_on_each_string() -> None:
    """Partials of its first string spoke for the last where that was asked for, and the one in between, whose sound the
    last one cuts short, was told as missed."""
    checkpoints = _found("rolled-two-frets-high")["4"].checkpoints
    assert {(c.string, c.faults, c.cause) for c in checkpoints if c.step == 3} == {
        (string, ("wrong-note",), "bar at 11, not 9") for string in (4, 5, 6)
    }


@pytest.mark.parametrize(
    ("name", "figure", "string"),
    [
        # The bar sets out so soon after it that what the glide changes is an onset of its own.
        ("struck-as-the-bar-set-out", "4", 1),
        # Two tracks leap at once, one of them to the stray and one to nothing.
        ("track-drawn-to-a-stray", "1", 2),
        # The octave below it seems to be there too.
        ("stray-above-a-knock", "5", 1),
        # The bar then takes a string to the pitch that it has, as if that had come too soon. Two strings have it.
        ("stray-where-the-bar-goes", "4", None),
        # The only string that rings is drawn to it, and the player's way with it; a pedal moves the stray too.
        ("stray-as-bar-and-pedal-move", "5", 6),
        # A pedal goes down over a second: the stray is half way from one step's pitch to the other's.
        ("stray-on-a-slow-pedal", "2", 3),
        # Its two semitones are where the figure's string is about to go, and where its track leaps at once.
        ("stray-near-a-fading-string", "4", 7),
        # It glides with the bar, whose slide is an onset of its own.
        ("glide-under-a-stray", "3", 9),
        # A string a semitone below leaves it little: a twelfth above it seems to be there by itself.
        ("stray-a-semitone-above", "4", 9),
        # A track leaps by just a semitone, to where its octave is the stray.
        ("stray-that-a-track-leapt-below", "4", 2),
        # A tone of the body a twelfth below it, of which the strings on their way leave nothing free but the lowest.
        ("stray-above-a-lower-knock", "4", 1),
        # Of D2, which rings, some partial lies next to each of its own.
        ("stray-above-a-low-string", "3", 1),
        # Of a low string that rings a partial lies beside its first one: that is not new, the others are.
        ("stray-beside-a-low-one", "2", 8),
        # Three strings and all that they mix to in an overdriven amplifier leave it nothing.
        ("stray-in-driven-sound", "1", 10),
        # Three more ring, and all mix: hardly a partial of it is none of their mixtures.
        ("stray-among-driven-strings", "5", None),
        # Just then it sounds where the step before has another string.
        ("stray-on-its-way-past-another-string", "4", 1),
        # Under four strings on their way its stroke is no great rise, and the track of one of them leaps to it.
        ("stray-under-four-strings", "1", 7),
        # The track of the only string that rings leaps below it, to an octave below the stray. Two strings have it.
        ("stray-an-octave-above-a-leap", "4", None),
    ],
)
def test_a_stray_is_told_by_its_string(name: str, figure: str, string: int | None) -> None:
    assert [(extra.fault, extra.string) for extra in _found(name)[figure].extras] == [("extra-note", string)]


def test_a_string_that_moves_on_under_a_stray_is_not_silenced_with_it() -> None:
    """The stray is damped 30 dB above what is left of the string."""
    assert [c.faults for c in _found("glide-under-a-stray")["3"].checkpoints] == [(), (), ()]


@pytest.mark.parametrize(
    ("name", "figure", "string", "slips"),
    [
        # A pedal takes it to the octave above the other string, whose partial is there long before.
        ("pedal-into-hiding", "4", 1, {}),
        # A stray is where the bar takes it next, 30 dB louder.
        ("stray-near-a-fading-string", "4", 6, {}),
        # The same where it rings alone: the stray is another string, and it follows later.
        ("stray-a-step-ahead", "2", 9, {}),
        # For two frames it seems to be where it goes.
        ("seen-for-two-frames", "1", 7, {4: ("late",)}),
        # An octave above another string, louder than itself, and then by itself.
        ("out-of-its-hiding-place", "3", 2, {4: ("missed-move",)}),
    ],
)
def test_a_string_that_moves_in_time_is_not_told_by_what_sounds_where_it_goes(
    name: str, figure: str, string: int, slips: dict[int, tuple[str, ...]]
) -> None:
    checkpoints = [c for c in _found(name)[figure].checkpoints if c.string == string]
    assert {c.step: c.faults for c in checkpoints if c.faults} == slips


def test_a_stray_where_the_figure_goes_next_is_another_string() -> None:
    extras = _found("stray-a-step-ahead")["2"].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-note", 8), ("extra-pick", 9)]


def test_a_rolled_grip_that_came_too_soon_is_early_on_each_string() -> None:
    """Its strings ring at the same pitches already, and one of them seems to grow again when the next is struck."""
    figure = _found("rolled-too-soon")["1"]
    assert figure.extras == ()
    assert {(c.string, c.faults) for c in figure.checkpoints if c.step == 6} == {(s, ("early",)) for s in (4, 6, 8)}


def test_an_octave_that_is_louder_by_what_the_lower_string_has_is_struck_again() -> None:
    """Only what a string has by itself tells that it was not struck before."""
    extras = _found("octave-again-louder")["4"].extras
    assert {extra.string for extra in extras if extra.fault == "extra-pick"} == {4, 6, 8}


def test_a_string_that_fades_fast_and_sets_out_is_not_silenced() -> None:
    """The bar's setting out is an onset, which was taken to cover it: what it lost meanwhile was no sudden fall."""
    checkpoints = _found("fast-fading-on-its-way")["4"].checkpoints
    assert not any("cut-short" in c.faults for c in checkpoints)


def test_the_octave_of_what_is_picked_next_is_no_faint_string_that_rings_on() -> None:
    """Found 15 cents above, where it has partials that the lower one does not take, though louder than it was."""
    checkpoints = _found("octave-below-a-faint-string")["4"].checkpoints
    assert not any(c.faults for c in checkpoints)


def test_a_string_that_rings_on_is_no_other_one_on_its_way() -> None:
    """It is where the bar might have the other, which was picked after it and silenced in time."""
    checkpoints = _found("where-another-would-be")["2"].checkpoints
    assert [(c.step, c.string) for c in checkpoints if "rang-on" in c.faults] == [(5, 8)]


def test_a_string_to_which_the_stroke_of_another_lends_a_little_is_not_struck_again() -> None:
    """It has faded by 14 dB and grows by 3 while the string beside it is struck as loud as at first."""
    extras = _found("a-neighbour-lends-a-little")["2"].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-pick", 8)]


def test_a_string_struck_again_softly_is_told_by_what_the_other_faded() -> None:
    """It gains less than a decibel, while the string beside it loses one and a half."""
    extras = _found("struck-again-softly")["4"].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-pick", 6)]


@pytest.mark.parametrize(
    ("name", "figure", "string"),
    [
        # So soft an attack that it has to bring more, unless it can be nothing else.
        ("struck-again-with-nothing-new", "1", 4),
        # A band plays, but not just then.
        ("struck-again-beside-a-band", "4", 7),
        # The bar is about to move: what that smears lies where another low string has its partials.
        ("low-string-again-on-its-way", "1", 9),
    ],
)
def test_an_onset_that_brings_nothing_but_what_rings_was_a_stroke_on_it(name: str, figure: str, string: int) -> None:
    extras = _found(name)[figure].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-pick", string)]


def test_a_stray_on_a_string_that_still_rings_is_that_string_s() -> None:
    """A spring reverb holds up what was damped before: struck anew it is an extra note, and no other string's pick."""
    extras = _found("stray-on-a-string-that-rings-on")["5"].extras
    assert [(extra.fault, extra.string) for extra in extras] == [("extra-pick", 7), ("extra-note", 7)]


def test_a_string_on_its_way_past_the_next_pick_s_pitch_is_not_that_pick() -> None:
    """In a room its glide is an onset of its own; the pick comes half a second later, at a wrong pitch."""
    figure = _found("struck-where-another-string-had-passed")["5"]
    assert figure.extras == ()
    assert [(c.step, c.faults) for c in figure.checkpoints if c.step in (3, 4)] == [(3, ()), (4, ("wrong-note",))]


def test_a_string_that_arrives_while_a_room_holds_up_where_it_was_is_not_struck_anew() -> None:
    """Struck with the bar where it was before, in a spring reverb, in which its glide down is an onset of its own."""
    assert _found("arrived-while-the-room-held-it")["3"].extras == ()


def test_where_another_string_has_come_a_string_does_not_still_sound() -> None:
    """The bar comes early, by three frets, and takes the upper string to where the one below it was (sums of sines; a
    band plays)."""
    assert _found("come-to-where-another-was")["4"].extras == ()


@pytest.mark.parametrize(
    ("name", "figure", "strings"),
    [
        # The upper of two an octave apart hides behind the lower: it came with it, not with the stray before.
        ("faded-in-after-a-stray", "4", {6: {2, 8}}),
        # What rang until the figure began, a twelfth above, was loud when it was struck.
        ("faded-in-after-the-figure-before", "4", {1: {1, 7}, 8: {4, 8}}),
    ],
)
def test_strings_that_are_faded_in_are_no_wrong_notes(name: str, figure: str, strings: dict[int, set[int]]) -> None:
    found = _found(name)[figure]
    swells = [c for c in found.checkpoints if c.kind == "pick" and c.step in strings]
    assert {c.step: {one.string for one in swells if one.step == c.step} for c in swells} == strings
    assert [c.faults for c in swells if c.faults] == []
    assert [extra.fault for extra in found.extras] == ["extra-note"]


def test_a_stray_that_draws_all_tracks_away_moves_no_string() -> None:
    """String 2, right after the bar has arrived, louder than the strings, a semitone off partials of both."""
    figure = _found("all-drawn-to-a-stray")["2"]
    assert [c.faults for c in figure.checkpoints if c.faults] == []
    assert [(extra.fault, extra.string) for extra in figure.extras][1:] == [("extra-note", 2)]


def test_a_string_slid_into_is_not_the_one_an_octave_above_that_comes_next() -> None:
    """The end of the slide is an onset of its own, three quarters of a second before the next string is due."""
    figure = _found("octave-above-the-string-before")["1"]
    assert [(c.step, c.faults) for c in figure.checkpoints] == [
        (1, ()), (2, ("wrong-note",)), (3, ()), (4, ("wrong-note",)), (5, ())
    ]  # fmt: skip
    assert figure.extras == ()


def test_of_an_octave_that_is_rolled_both_strings_are_where_the_bar_was_left() -> None:
    """Strings 7 and 4, an octave apart, with the bar still where it was: the upper one, struck last, brings nothing
    that the lower one does not have, and was taken to be where it is asked."""
    figure = _found("rolled-octave-with-the-bar-behind")["1"]
    wrong = {(c.step, c.string) for c in figure.checkpoints if c.faults == ("wrong-note",)}
    assert wrong == {(1, 2), (3, 4), (3, 7)}


def test_a_rolled_grip_is_not_looked_for_where_one_of_its_strings_only_seems_to_be() -> None:
    """The bar stays two frets high, and the first string lends partials to where the last one is asked."""
    figure = _found("taken-for-the-last-of-a-roll")["3"]
    rolled = [(c.string, c.faults) for c in figure.checkpoints if c.step == 5]
    assert rolled == [(string, ("wrong-note",)) for string in (3, 4, 5)]


def test_a_stray_that_the_bar_takes_along_beside_a_louder_string_is_one_stray() -> None:
    """Its track goes to that string, and what came where the bar took it was told as another stray."""
    figure = _found("stray-beside-a-louder-string")["5"]
    assert [(extra.fault, extra.string) for extra in figure.extras] == [("extra-note", 5), ("extra-note", 1)]
    assert [c for c in figure.checkpoints if c.faults or not c.judged] == []


def test_a_drum_right_before_a_wrong_grip_is_not_taken_for_its_stroke() -> None:
    """It is the clearer attack, and what sounds after it is the grip's already."""
    checkpoints = _found("drum-before-a-wrong-grip")["2"].checkpoints
    assert [(c.step, c.string, c.faults) for c in checkpoints if c.faults] == [
        (5, string, ("wrong-note",)) for string in (3, 4, 5)
    ]


def test_a_string_that_another_one_is_struck_in_unison_with_as_it_ends_does_not_ring_on() -> None:
    """They are a few cents out of tune: in the longer window the upper partials of both lie apart."""
    assert [c for c in _found("unison-struck-as-one-ends")["4"].checkpoints if c.faults or not c.judged] == []
