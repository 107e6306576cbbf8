"""Requests by chance, and whether what comes of them can be played.

What a player can do is written here once more and by hand, so that the solver is not held against itself. Common
practice, no source: one foot on at most two pedals side by side, one lever a knee, three changes at once; a bar between
the nut and the second octave, slanted by two frets at most; a grip of four strings at most.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from livecheck.lesson.copedent import Copedent
from livecheck.lesson.figure import Bar, Figure, Lesson, Stance
from livecheck.lesson.reading import read_lesson
from livecheck.lesson.writing import lesson_text
from livecheck.neck import drill
from livecheck.neck.grips import parse_request
from livecheck.neck.lick import elsewhere, shifted
from livecheck.neck.neck import Neck
from livecheck.neck.position import Position
from livecheck.neck.scale import SCALES, Scale
from livecheck.neck.survey import onward, survey
from livecheck.sources.library import load_copedent, names_of
from tests.bench import lessons

LONGEST_S = 0.3
PEDALS: Mapping[str, tuple[str, ...]] = {
    "e9": ("A", "B", "C"),
    "c6": ("P4", "P5", "P6", "P7", "P8"),
}
LEFT_KNEE, RIGHT_KNEE = {"LKL", "LKV", "LKR"}, {"RKL", "RKR"}
TONES = ("C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")
KINDS = ("", "m", "7", "maj7", "m7", "6", "dim", "aug", "sus4", "9", "13", "m7b5", "add9")
LICKS = ("double-stops", "grips", "strings", "lines")


@dataclass(frozen=True)
class Answer:
    """What came of one request."""

    words: str
    lasted_s: float
    """Of the processor, as others may keep the machine busy."""
    complaints: tuple[str, ...]
    found: int


def answers(count: int, seed: int) -> Iterator[Answer]:
    """Random requests, answered and checked."""
    rng = Random(seed)
    necks = {name: Neck(load_copedent(name)) for name in names_of("copedents")}
    for _ in range(count):
        name = rng.choice(["e9-ten-string", "e9-ten-string-just", "c6-ten-string", *necks])
        make = rng.choices((_positions, _drill, _lick), (60, 37, 3))[0]
        yield make(rng, name, necks[name])


def cannot_hold(copedent: str, down: Iterable[str]) -> str | None:
    """Why nobody can hold these; None if a player can."""
    held = set(down)
    pedals = next((row for kind, row in PEDALS.items() if copedent.startswith(kind)), ())
    pressed = [number for number, name in enumerate(pedals) if name in held]
    if len(pressed) > 2 or (len(pressed) == 2 and pressed[1] - pressed[0] != 1):
        return f"one foot on {sorted(held)}"
    if len(held & LEFT_KNEE) > 1 or len(held & RIGHT_KNEE) > 1:
        return f"a knee both ways: {sorted(held)}"
    if len(held) > 3 or not held <= {*pedals, *LEFT_KNEE, *RIGHT_KNEE}:
        return f"too much at once, or nothing that is there: {sorted(held)}"
    return None


def cannot_play(copedent: str, strings: Iterable[int], stance: Stance) -> str | None:
    """Why nobody can play these strings so; None if a player can."""
    used = list(strings)
    frets = [stance.bar.fret_at(string) for string in used]
    if len(set(used)) != len(used) or len(used) > 4:
        return f"strings {used}"
    if not all(0.0 <= fret <= 24.0 and fret == int(fret) for fret in frets):
        return f"frets {frets}"
    if not stance.bar.is_straight and (max(frets) - min(frets) > 2.0 or min(frets) < 1.0 or "e9" in copedent):
        return f"a bar slanted over {frets}"
    return cannot_hold(copedent, stance.down)


def pitch(copedent: Copedent, string: int, stance: Stance) -> float:
    """By the rule of an all-pull changer: the furthest raise and the furthest lower."""
    pulls = [copedent.changes[name].get(string, 0.0) for name in stance.down]
    pulled = max([0.0, *pulls]) + min([0.0, *pulls])
    for pair, strings in copedent.pairs.items():
        if pair <= set(stance.down) and string in strings:
            pulled = strings[string]
    return copedent.strings[string - 1] + stance.bar.fret_at(string) + pulled


def _positions(rng: Random, name: str, neck: Neck) -> Answer:
    notes = [f"{rng.choice(TONES)}{rng.randint(2, 6)}" for _ in range(rng.randint(1, 4))]
    text = " ".join(notes) if rng.random() < 0.5 else rng.choice(TONES) + rng.choice(KINDS)
    request = parse_request(text)
    count = request.strings_asked if request.chord is None else rng.choice((2, 3, 3, 4))
    start = (
        Position((1,), Bar.straight(float(rng.randint(0, 12))), rng.choice(neck.holds)) if rng.random() < 0.5 else None
    )
    began_s = time.process_time()
    places = survey(neck, request, count, start)
    leads = [(grip, onward(neck, grip, places)) for place in places[:8] for grip in place.grips[:1]]
    lasted_s = time.process_time() - began_s
    complaints = []
    for grip in (grip for place in places for grip in place.grips):
        complaints += _complaints(name, grip)
        midis = sorted(pitch(neck.copedent, string, grip.stance) for string in grip.strings)
        if request.chord is None and [round(midi) for midi in midis] != sorted(round(midi) for midi in request.midis):
            complaints.append(f"{text}: {grip} sounds {midis}")
        if request.chord is not None and not {round(midi) % 12 for midi in midis} <= set(request.chord.tones):
            complaints.append(f"{text}: {grip} sounds {midis}")
    for _, lead in leads:
        for reached in (*(s.position for s in lead.squeezes), *(p for _, p in lead.shifted), *lead.further):
            complaints += _complaints(name, reached)
    return Answer(f"positions {text} on {name}", lasted_s, tuple(complaints), len(places))


def _complaints(name: str, position: Position) -> list[str]:
    why = cannot_play(name, position.strings, position.stance)
    return [] if why is None else [f"{name}: {position}: {why}"]


def _drill(rng: Random, name: str, neck: Neck) -> Answer:
    kind = rng.choice(("scale", "thirds", "sixths", "grips", "inversions"))
    scale = Scale(
        rng.choice(TONES), rng.choice([s for s, tones in SCALES.items() if kind == "scale" or len(tones) == 7])
    )
    count = rng.randint(3, len(neck.strings))
    strings = tuple(sorted(rng.sample(neck.strings, count))) if rng.random() < 0.4 else None
    octaves = rng.randint(1, 2)
    makers: Mapping[str, Callable[[Neck, Scale, Sequence[int] | None], tuple[Figure, ...]]] = {
        "scale": lambda neck, scale, strings: drill.scale_figures(neck, scale, octaves, strings),
        "thirds": drill.thirds_figures, "sixths": drill.sixths_figures, "grips": drill.grips_figures,
        "inversions": drill.inversions_figures,
    }  # fmt: skip
    words = f"drill {kind} {scale.name} on {name}, strings {strings or 'any'}"
    began_s = time.process_time()
    try:
        figures = makers[kind](neck, scale, strings)
    except drill.Unplayable:
        return Answer(words, time.process_time() - began_s, (), 0)
    return _checked(words, began_s, name, neck, figures)


def _lick(rng: Random, _: str, neck: Neck) -> Answer:
    lesson = lessons.parse(lessons.write(rng.choice(LICKS), rng.randint(0, 999)), "lick.toml")
    figure, by = rng.choice(lesson.figures), rng.randint(-7, 7)
    if neck.copedent != lesson.copedent:
        neck = Neck(lesson.copedent)
    words = f"lick {lesson.title}, figure {figure.name}, {by} semitones up"
    began_s = time.process_time()
    figures = [moved for moved in [shifted(figure, by)] if moved is not None]
    figures += elsewhere(figure, neck, by, 1)
    return _checked(words, began_s, "e9-ten-string", neck, figures)


def _checked(words: str, began_s: float, name: str, neck: Neck, figures: Iterable[Figure]) -> Answer:
    named = tuple(Figure(f"{n}", f.length, f.steps) for n, f in enumerate(figures))
    lasted_s = time.process_time() - began_s
    complaints = []
    if named:
        lesson = Lesson("by chance", 60.0, "4/4", neck.copedent, name, named)
        if read_lesson(lesson_text(lesson), "chance.toml", lambda _: neck.copedent).figures != named:
            complaints.append(f"{words}: is read back as something else")
    for figure in named:
        ringing: set[int] = set()
        for step in figure.steps:
            ringing -= ringing if step.block is None else step.block
            if step.pick:
                ringing = (ringing if step.keeps is None else ringing & step.keeps) | set(step.pick)
            why = cannot_play(name, ringing, step.stance) if ringing else None
            complaints += [] if why is None else [f"{words}: step {step.number}: {why}"]
    return Answer(words, lasted_s, tuple(complaints), len(named))
