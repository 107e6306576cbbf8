"""A lesson from its text: what is left out is filled in, and every mistake is one sentence with its place."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.errors import Unusable
from livecheck.lesson.document import StepFile
from livecheck.lesson.figure import Bar
from livecheck.lesson.reading import read_lesson
from tests.lesson.written import complaint_about, lesson_text, read, steel

START = "beat = 1, fret = 3, pick = [5, 6]"


def test_a_whole_lesson() -> None:
    lesson = read("""
format = 1
title = "Back porch study"
tempo = 84
meter = "3/4"
copedent = "e9-ten-string"
tolerances = "strict"
reference = 442

[[figure]]
name = "1"
length = 8
steps = [
  { beat = 1, fret = 10, down = ["LKR"], pick = [5, 8] },
  { beat = "2 1/2", down = [], over = 0.5, remark = "lever off slowly" },
  { beat = 4, fret = 12, down = ["B"], over = 0.75 },
  { beat = 5, fret = 7, down = { B = 0.5 }, pick = [3, 4], roll = 0.1, swell = true, harmonic = 12 },
  { beat = 7, block = "all" },
]
""")
    assert (lesson.title, lesson.tempo, lesson.meter, lesson.tolerances) == ("Back porch study", 84.0, "3/4", "strict")
    assert (lesson.copedent_name, lesson.reference_hz) == ("e9-ten-string", 442.0)
    assert lesson.beat_s == pytest.approx(60.0 / 84.0)
    first, off, slide, last, stop = lesson.figures[0].steps
    assert [step.number for step in lesson.figures[0].steps] == [1, 2, 3, 4, 5]
    assert first.stance.down == {"LKR": 1.0}
    assert not first.is_move
    assert (off.beat, off.over, off.remark, off.is_move) == (Fraction(5, 2), Fraction(1, 2), "lever off slowly", True)
    assert (off.moves_bar, off.moves_changes) == (False, True)
    assert off.stance.bar == Bar.straight(10.0)
    assert (slide.moves_bar, slide.moves_changes, slide.over) == (True, True, Fraction(3, 4))
    assert (last.stance.down, last.roll, last.swell, last.harmonic) == ({"B": 0.5}, Fraction(1, 10), True, 12)
    assert [last.pick_beat(string) for string in (3, 4)] == [Fraction(5), Fraction(51, 10)]
    assert stop.block is None
    assert stop.stance == last.stance


def test_what_may_be_left_out() -> None:
    lesson = read(lesson_text(START))
    assert (lesson.title, lesson.meter, lesson.tolerances) == ("porch.toml", "4/4", "standard")
    assert lesson.reference_hz is None
    (step,) = lesson.figures[0].steps
    assert (step.stance.down, step.stance.pull, step.remark, step.vibrato) == ({}, {}, "", False)
    assert step.keeps == step.block == frozenset()
    assert (step.harmonic, step.swell, step.roll) == (None, False, Fraction(0))


def test_position_pedals_and_pulls_stay_until_they_are_changed() -> None:
    steps = read(
        lesson_text(
            'beat = 1, fret = 3, down = ["A"], pull = { 4 = 1 }, pick = [4, 5]',
            'beat = 2, down = ["B"]',
            "beat = 3, slant = { 4 = 3, 5 = 4 }",
            "beat = 4, pull = {}, down = {}",
            "beat = 5, pick = [5]",
        )
    ).figures[0].steps  # fmt: skip
    assert [sorted(step.stance.down) for step in steps] == [["A"], ["B"], ["B"], [], []]
    assert [step.stance.pull for step in steps] == [{4: 1.0}, {4: 1.0}, {4: 1.0}, {}, {}]
    assert [step.stance.bar.fret_at(5) for step in steps] == [3.0, 3.0, 4.0, 4.0, 4.0]


def test_a_pedal_that_is_not_pressed_is_not_down() -> None:
    (step,) = read(lesson_text("beat = 1, fret = 3, down = { A = 0, B = 1 }, pick = [5]")).figures[0].steps
    assert step.stance.down == {"B": 1.0}


def test_over_is_a_quarter_of_a_beat_or_what_room_there_is() -> None:
    steps = (
        read(lesson_text(START, "beat = 2, fret = 5", "beat = 2.1, fret = 6", 'beat = 3, down = ["A"]'))
        .figures[0]
        .steps
    )
    assert [step.over for step in steps[1:]] == [Fraction(1, 4), Fraction(1, 10), Fraction(1, 4)]


def test_over_may_reach_past_a_step_that_moves_the_other() -> None:
    steps = read(lesson_text(START, 'beat = 2, down = ["A"]', "beat = 3, fret = 5, over = 2")).figures[0].steps
    assert steps[2].over == 2


def test_over_may_reach_past_a_pick_that_keeps_its_position() -> None:
    steps = (
        read(lesson_text(START, "beat = 2, pick = [8], ring = true", "beat = 2.5, fret = 5, over = 1")).figures[0].steps
    )
    assert steps[2].over == 1


def test_strings_that_ring_after_a_pick() -> None:
    steps = (
        read(lesson_text(START, "beat = 2, pick = [8], ring = [5]", "beat = 3, pick = [4], ring = true"))
        .figures[0]
        .steps
    )
    assert [step.keeps for step in steps] == [frozenset(), frozenset({5}), None]


def test_figures_keep_their_order_and_each_begins_anew() -> None:
    text = lesson_text(START) + '[[figure]]\nname = "0"\nlength = "3/2"\nsteps = [{ beat = 1, fret = 0, pick = [5] }]\n'
    one, other = read(text).figures
    assert (one.name, other.name, other.length) == ("1", "0", Fraction(3, 2))
    assert other.steps[0].stance.bar == Bar.straight(0.0)


BAD_STEPS = [
    # one step after `START`, and what is said of it
    ("beat = 2, pick = [11]", "pick names string 11; the copedent has strings 1 to 10"),
    ("beat = 2, pick = [0]", "pick names string 0; the copedent has strings 1 to 10"),
    ("beat = 2, pick = [5, 5]", "pick names a string twice"),
    ("beat = 2, pick = []", "pick is empty; leave it out where nothing is struck"),
    ("beat = 2, block = [12]", "block names string 12; the copedent has strings 1 to 10"),
    ("beat = 2, pick = [5], ring = [99]", "ring names string 99; the copedent has strings 1 to 10"),
    ("beat = 2, pull = { 11 = 1 }", "pull names string 11; the copedent has strings 1 to 10"),
    ("beat = 2, slant = { 5 = 3, 11 = 4 }", "slant names string 11; the copedent has strings 1 to 10"),
    ("beat = 2, slant = {}", "slant is empty; wanted a fret for one string or more"),
    ("beat = 2, slant = { 5 = 3, 6 = -1 }", "fret -1.0 is not on the neck; wanted 0 (open) to 48"),
    (
        "beat = 2, slant = { 5 = 1, 6 = 3 }, pick = [4]",
        "the slanted bar lies at fret -1 on string 4, which rings; wanted 0 (open) to 48 there",
    ),
    (
        "beat = 2, slant = { 1 = 48, 2 = 36 }",
        "the slanted bar lies at fret -12 on string 6, which rings; wanted 0 (open) to 48 there",
    ),
    ("beat = 2, fret = 5, slant = { 5 = 3 }", "both fret and slant; wanted one of them"),
    ('beat = 2, down = ["X"]', 'down names "X"; the copedent has A, B, C, LKL, LKV, LKR, RKL, RKR'),
    ("beat = 2, down = { X = 1 }", 'down names "X"; the copedent has A, B, C, LKL, LKV, LKR, RKL, RKR'),
    ("beat = 2, down = { A = 1.5 }", 'down has "A" at 1.5; wanted 0 (up) to 1 (all the way down)'),
    ("beat = 2, down = { A = -0.5 }", 'down has "A" at -0.5; wanted 0 (up) to 1 (all the way down)'),
    ("beat = 2, down = { A = nan }", 'down has "A" at nan; wanted 0 (up) to 1 (all the way down)'),
    ("beat = 2, fret = -1", "fret -1.0 is not on the neck; wanted 0 (open) to 48"),
    ("beat = 2, fret = inf", "fret inf is not on the neck; wanted 0 (open) to 48"),
    ("beat = 2, fret = nan", "fret nan is not on the neck; wanted 0 (open) to 48"),
    ("beat = 2, pull = { 5 = -1 }", "pull raises string 5 by -1.0; wanted 0 to 12 semitones"),
    ("beat = 2, pull = { 5 = inf }", "pull raises string 5 by inf; wanted 0 to 12 semitones"),
    ("beat = 1, fret = 5", "beat 1 is out of order; wanted a beat after step 1's 1"),
    ("beat = 0, fret = 5", "beat 0 lies outside the figure; wanted 1 to below 9"),
    ("beat = -1, fret = 5", "beat -1 lies outside the figure; wanted 1 to below 9"),
    ("beat = 9, fret = 5", "beat 9 lies outside the figure; wanted 1 to below 9"),
    ('beat = "19/2", fret = 5', "beat 19/2 lies outside the figure; wanted 1 to below 9"),
    ("beat = nan, fret = 5", "beat: nan is not finite"),
    ("beat = inf, fret = 5", "beat: inf is not finite"),
    ('beat = "two", fret = 5', 'beat: "two" is no beat; wanted a number such as 4, 4.5, "9/2" or "4 1/2"'),
    ("beat = 2, fret = 5, over = 0", "over is zero; wanted beats above zero"),
    ("beat = 2, fret = 5, over = -1", "over is -1; wanted beats, not below zero"),
    ("beat = 2, fret = 5, over = nan", "over: nan is not finite"),
    (
        "beat = 2, fret = 5, over = 1.5",
        "over is 1 1/2 and reaches too far back; wanted at most 1, the beats since the last move of the same kind",
    ),
    ("beat = 2, pick = [5], roll = -0.1", "roll is -0.1; wanted beats, not below zero"),
    ("beat = 8, pick = [5, 6, 8], roll = 0.5", "roll reaches beyond the figure's end at beat 9"),
    ("beat = 2, pick = [5], harmonic = 3", "harmonic is 3; wanted 5, 7 or 12 (frets above the bar)"),
    ("beat = 2, pick = [5], harmonic = 0", "harmonic is 0; wanted 5, 7 or 12 (frets above the bar)"),
    ("beat = 2, fret = 5, harmonic = 12", "ring, roll, harmonic and swell belong to a pick; this step picks nothing"),
    ("beat = 2, fret = 5, swell = true", "ring, roll, harmonic and swell belong to a pick; this step picks nothing"),
    ("beat = 2, fret = 5, ring = true", "ring, roll, harmonic and swell belong to a pick; this step picks nothing"),
    ("beat = 2, fret = 5, roll = 0.1", "ring, roll, harmonic and swell belong to a pick; this step picks nothing"),
    # what does not fit its key at all
    ("fret = 5", 'lacks the key "beat"; wanted a number, or text such as "9/2" or "4 1/2"'),
    ("beat = 2, frett = 5", 'unknown key "frett"; wanted "fret"?'),
    ("beat = 2, fret = '5'", 'fret is "5"; wanted a number'),
    ("beat = 2, pick = 5", "pick is 5; wanted a list in [ ]"),
    ("beat = 2, pick = [5, 6.5]", "pick, value 2 is 6.5; wanted a whole number"),
    ("beat = 2, pick = [true]", "pick, value 1 is true; wanted a whole number"),
    (
        "beat = 2, down = 'A'",
        'down is "A"; wanted a list of pedals and levers in quotes, or a table such as { A = 0.5 }',
    ),
    ("beat = 2, down = [1]", "down, value 1 is 1; wanted text in quotes"),
    ("beat = 2, down = { A = 1, B = 'x' }", 'down, B is "x"; wanted a number'),
    ("beat = 2, slant = { five = 3 }", 'slant has the key "five"; wanted the number of a string'),
    ("beat = 2, slant = { 5 = 3, 05 = 3 }", 'slant has the key "05"; wanted the number of a string'),
    ("beat = 2, slant = { 5 = 3, 6 = [4] }", "slant, 6 is a list; wanted a number"),
    ("beat = 2, block = 'some'", 'block is "some"; wanted a list of strings, or "all"'),
    ("beat = 2, pick = [5], ring = 5", "ring is 5; wanted true, false or a list of strings"),
    ("beat = [2]", 'beat is a list; wanted a number, or text such as "9/2" or "4 1/2"'),
    ("beat = true", 'beat is true; wanted a number, or text such as "9/2" or "4 1/2"'),
    ("beat = 2, vibrato = 1", "vibrato is 1; wanted true or false"),
    ("beat = 2, remark = 5", "remark is 5; wanted text in quotes"),
    ("beat = 2, remark = 1979-05-27", "remark is 1979-05-27; wanted text in quotes"),
    ("beat = 2, fret = 1" + "0" * 400, f"fret is 1{'0' * 39}…; wanted a number in range"),
    ("beat = 1" + "0" * 400, "beat: a number beyond 1000000"),
]


@pytest.mark.parametrize(("step", "said"), BAD_STEPS)
def test_a_bad_step(step: str, said: str) -> None:
    assert complaint_about(lesson_text(START, step)) == f'figure "1", step 2: {said}'


def test_a_first_step_without_a_position() -> None:
    said = complaint_about(lesson_text("beat = 1, pick = [5]"))
    assert said == 'figure "1", step 1: the first step gives no position; wanted fret or slant'


@pytest.mark.parametrize(
    "before",
    ["beat = 1, fret = 3", "beat = 1, fret = 3, pick = [5], block = [5]", START],
    ids=["nothing picked yet", "a block comes before its pick", "blocked"],
)
def test_a_move_with_nothing_ringing(before: str) -> None:
    stop = "beat = 1.5, block = 'all'"
    text = lesson_text(before, stop, "beat = 2, fret = 5", "beat = 3, pick = [5]")
    assert (
        complaint_about(text)
        == 'figure "1", step 3: a move with nothing ringing; wanted a pick before it, or in this step'
    )


def test_a_slanted_bar_may_leave_the_neck_where_nothing_rings() -> None:
    assert complaint_about(lesson_text(START, "beat = 2, slant = { 5 = 1, 6 = 3 }, pick = [5, 6]")) is None


def test_a_string_that_a_pick_does_not_keep_rings_no_more() -> None:
    blocked = lesson_text(START, "beat = 2, pick = [8]", "beat = 3, block = [8]", "beat = 4, fret = 5")
    said = 'figure "1", step 4: a move with nothing ringing; wanted a pick before it, or in this step'
    assert complaint_about(blocked) == said
    kept = lesson_text(START, "beat = 2, pick = [8], ring = true", "beat = 3, block = [8]", "beat = 4, fret = 5")
    assert read(kept).figures[0].steps[3].is_move


def test_over_does_not_reach_past_a_move_of_the_same_kind() -> None:
    said = "over is 1 1/2 and reaches too far back; wanted at most 1, the beats since the last move of the same kind"
    for before, move in (
        ("fret = 5", "fret = 6"),
        ('down = ["A"]', 'down = ["B"]'),
        ('down = ["A"]', "fret = 5, down = []"),
    ):
        text = lesson_text(START, f"beat = 2, {before}", f"beat = 3, {move}, over = 1.5")
        assert complaint_about(text) == f'figure "1", step 3: {said}'


def test_a_roll_ends_before_the_next_step() -> None:
    rolled = "beat = 1, fret = 3, pick = [5, 6, 8], roll = 0.5"
    said = complaint_about(lesson_text(rolled, "beat = 2, fret = 5"))
    assert said == 'figure "1", step 2: beat 2 is out of order; wanted a beat after step 1, which rolls until beat 2'
    assert len(read(lesson_text(rolled, "beat = 2.1, fret = 5")).figures[0].steps) == 2


FIGURE = '[[figure]]\nname = "1"\nlength = 4\nsteps = [{ beat = 1, fret = 3, pick = [5] }]\n'
TOP = 'format = 1\ntempo = 60\ncopedent = "e9-ten-string"\n'


def test_a_figure_says_where_it_begins_in_the_backing() -> None:
    lesson = read(TOP + 'backing = "band.flac"\n' + FIGURE.replace("length", "backing_at = 12.5\nlength"))
    assert lesson.backing == "band.flac"
    assert [figure.backing_s for figure in lesson.figures] == [12.5]
    assert read(TOP + FIGURE).backing is None


BAD_LESSONS = [
    ("format = = 1", "not TOML: Invalid value (at line 1, column 10)"),
    ("a = 1" + "0" * 5000, "not TOML that can be read: a number is too long, or tables are nested too deep"),
    ("a = " + "[" * 5000, "not TOML that can be read: a number is too long, or tables are nested too deep"),
    # each of these would take hours and all memory
    ("a = 1\n" + "a." * 400_000 + "a = 1", "a key in line 2 has more than 32 parts; wanted plain keys"),
    ("[" + "' a'  . " * 99_999 + "a]", "a key in line 1 has more than 32 parts; wanted plain keys"),
    (r'"\"".' * 99_999 + "a = 1", "a key in line 1 has more than 32 parts; wanted plain keys"),
    ('tempo = 60\ncopedent = "e9-ten-string"\n' + FIGURE, 'lacks the key "format"; wanted 1'),
    (TOP.replace("format = 1", "format = 2") + FIGURE, "format is 2; wanted 1"),
    (TOP.replace("format = 1", 'format = "1"') + FIGURE, 'format is "1"; wanted 1'),
    (TOP.replace("tempo = 60\n", "") + FIGURE, 'lacks the key "tempo"'),
    (TOP, 'lacks the key "figure"; wanted tables that begin with [[figure]]'),
    (TOP + "figure = []", "no figure; wanted at least one [[figure]]"),
    (TOP + FIGURE.replace("[[figure]]", "[figure]"), "figure is a table; wanted tables that begin with [[figure]]"),
    (TOP + "figure = [1]", "figure number 1: is 1; wanted a table in { }"),
    (TOP + "tempi = 60\n" + FIGURE, 'unknown key "tempi"; wanted "tempo"?'),
    (
        TOP + "zz = 1\n" + FIGURE,
        'unknown key "zz"; wanted format, copedent, tempo, figure, title, meter, tolerances, backing, reference',
    ),
    (TOP.replace("60", "0") + FIGURE, "tempo is 0.0; wanted a finite number above zero"),
    (TOP.replace("60", "-60") + FIGURE, "tempo is -60.0; wanted a finite number above zero"),
    (TOP.replace("60", "nan") + FIGURE, "tempo is nan; wanted a finite number above zero"),
    (TOP.replace("60", "inf") + FIGURE, "tempo is inf; wanted a finite number above zero"),
    (TOP.replace("60", "1e-300") + FIGURE, "tempo is 1e-300; wanted 1 to 1000 beats a minute"),
    (TOP.replace("60", '"60"') + FIGURE, 'tempo is "60"; wanted a number'),
    (TOP + "reference = 0\n" + FIGURE, "reference is 0.0; wanted a finite number above zero"),
    (TOP + "reference = nan\n" + FIGURE, "reference is nan; wanted a finite number above zero"),
    (
        TOP + "reference = 44\n" + FIGURE,
        'reference is 44; wanted "take", or the frequency of A4 in Hz (440 or near it)',
    ),
    (
        TOP + FIGURE.replace("length", "backing_at = 3\nlength"),
        'figure "1": has backing_at, but the lesson has no backing; wanted backing = "FILE" at its head',
    ),
    (
        TOP + 'backing = "band.flac"\n' + FIGURE,
        'figure "1": says not where it begins in the backing; wanted backing_at, in seconds',
    ),
    (
        TOP + 'backing = "band.flac"\n' + FIGURE.replace("length", "backing_at = -1\nlength"),
        'figure "1": backing_at is -1.0; wanted seconds, zero or more',
    ),
    (TOP + 'reference = "a"\n' + FIGURE, 'reference is "a"; wanted "take", or the frequency of A4 in Hz'),
    (TOP + 'meter = "four"\n' + FIGURE, 'meter is "four"; wanted beats and note value such as "4/4" or "6/8"'),
    (TOP + FIGURE + FIGURE, 'figure "1": two figures have this name; wanted one name for each'),
    (
        TOP + FIGURE.replace("length = 4\n", ""),
        'figure "1": lacks the key "length"; wanted a number, or text such as "9/2" or "4 1/2"',
    ),
    (TOP + FIGURE.replace('name = "1"\n', ""), 'figure number 1: lacks the key "name"'),
    (TOP + FIGURE.replace('"1"', "1"), "figure number 1: name is 1; wanted text in quotes"),
    (TOP + FIGURE.replace("steps", "step"), 'figure "1": unknown key "step"; wanted "steps"?'),
    (
        TOP + FIGURE.replace("length = 4", "length = 0"),
        'figure "1": length is 0; wanted beats above zero, at most 1000',
    ),
    (
        TOP + FIGURE.replace("length = 4", "length = -4"),
        'figure "1": length is -4; wanted beats above zero, at most 1000',
    ),
    (
        TOP + FIGURE.replace("length = 4", "length = 1e5"),
        'figure "1": length is 100000.0; wanted beats above zero, at most 1000',
    ),
    (TOP + FIGURE.replace("length = 4", "length = inf"), 'figure "1": length: inf is not finite'),
    (TOP + '[[figure]]\nname = "1"\nlength = 4\nsteps = []\n', 'figure "1": has no steps; wanted at least one'),
    (TOP + '[[figure]]\nname = "1"\nlength = 4\nsteps = [5]\n', 'figure "1", step 1: is 5; wanted a table in { }'),
    (TOP + FIGURE.replace(", pick = [5]", ""), 'figure "1": picks no string in any step; wanted at least one pick'),
]


@pytest.mark.parametrize(("text", "said"), BAD_LESSONS)
def test_a_bad_lesson(text: str, said: str) -> None:
    assert complaint_about(text) == said


def test_a_long_lesson_is_read() -> None:
    figures = "".join(FIGURE.replace('"1"', f'"{number}"') for number in range(10_000))
    remarked = FIGURE.replace("fret = 3", 'fret = 3, remark = "' + "so it is. " * 1000 + '"')
    assert complaint_about(TOP + remarked + figures.replace('"1"', '"one"')) is None


def test_the_second_figure_is_named_by_its_name() -> None:
    text = TOP + FIGURE + FIGURE.replace('"1"', '"turnaround"').replace("fret = 3", 'fret = "3"')
    assert complaint_about(text) == 'figure "turnaround", step 1: fret is "3"; wanted a number'


def test_the_copedent_that_the_lesson_names_decides_its_strings() -> None:
    with pytest.raises(Unusable, match=r"step 1: pick names string 5; the copedent has strings 1 to 3"):
        read(TOP + FIGURE, steel())


def test_a_copedent_without_pedals() -> None:
    text = TOP.replace("e9-ten-string", "open-g") + FIGURE.replace("fret = 3", 'fret = 3, down = ["A"]')
    assert complaint_about(text) == 'figure "1", step 1: down names "A"; the copedent has no pedals or levers'


@given(st.text())
def test_any_text_is_a_lesson_or_one_clear_sentence(text: str) -> None:
    with pytest.raises(Unusable, match=r"^any\.toml: "):
        read_lesson(text, "any.toml", lambda _: steel())


KEYS = [*StepFile.__struct_fields__, "x"]
VALUES = [
    "1", "2", "-1", "0.5", "nan", "inf", '"all"', '"A"', '"3/2"', "true", "false", "[]", "[5]", "[5, 6]", '["A"]', "{}",
    "{ 5 = 1 }", "{ A = 0.5 }", "{ x = [] }", "1979-05-27", "[[1]]", "99999999999999999999",
]  # fmt: skip


@given(st.dictionaries(st.sampled_from(KEYS), st.sampled_from(VALUES), max_size=5))
def test_any_step_is_read_or_one_clear_sentence_with_its_place(step: dict[str, str]) -> None:
    text = lesson_text(START, ", ".join(f"{key} = {value}" for key, value in step.items()))
    said = complaint_about(text)
    assert said is None or said.startswith('figure "1", step 2: ')
    assert said is None or "something else" not in said
