"""From the text of a file to a `Copedent` or a `Lesson`; every mistake in it is one clear `Unusable`.

The text is read here, the file is not: `livecheck.sources.library` finds files and hands over their text.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction
from typing import TypeVar

import msgspec

from livecheck.errors import Unusable
from livecheck.lesson.beat import beat_text, parse_beat
from livecheck.lesson.complaint import complaint
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.document import CopedentFile, FigureFile, LessonFile, StepFile
from livecheck.lesson.figure import Bar, Figure, Lesson, Stance, Step
from livecheck.lesson.pitch import parse_name

DEFAULT_OVER = Fraction(1, 4)
SLOWEST, FASTEST = 1.0, 1000.0
"""Beats a minute: what lies beyond is a slip of the pen."""
HIGHEST_FRET = 48.0
"""Four octaves above the open string: beyond any neck, so a slip of the pen."""
LONGEST_KEY = 32
"""Parts of a dotted key, of which no file has more than two. The time and memory that parsing takes grow with their
square."""
_PART = r"""(?:(?<![\w-])[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+"""
_LONG_KEY = re.compile(rf"(?:{_PART}\.[ \t]*+){{{LONGEST_KEY}}}")

Document = TypeVar("Document", bound=msgspec.Struct)


def read_document(text: str, kind: type[Document], where: str) -> Document:
    """Parse TOML text strictly into a struct. `where` names the file in messages."""
    if (long := _LONG_KEY.search(text)) is not None:
        line = text.count("\n", 0, long.start()) + 1
        raise Unusable(f"{where}: a key in line {line} has more than {LONGEST_KEY} parts; wanted plain keys")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unusable(f"{where}: not TOML: {error}") from None
    except (ValueError, RecursionError):
        what = "a number is too long, or tables are nested too deep"
        raise Unusable(f"{where}: not TOML that can be read: {what}") from None
    try:
        return msgspec.convert(data, kind, strict=True, str_keys=True)
    except msgspec.ValidationError as error:
        raise Unusable(f"{where}: {complaint(error, data, kind)}") from None


def read_copedent(text: str, where: str) -> Copedent:
    """A copedent from the text of its file."""
    document = read_document(text, CopedentFile, where)
    if not document.strings:
        raise Unusable(f'{where}: strings is empty; wanted at least one pitch such as "E4"')
    opens = [_guard(where, "strings", parse_name, name) for name in document.strings]
    cents = document.string_cents if document.string_cents is not None else [0.0] * len(opens)
    if len(cents) != len(opens):
        raise Unusable(f"{where}: string_cents has {len(cents)} values; wanted {len(opens)}, one for each string")
    if not all(math.isfinite(value) and abs(value) <= 100.0 for value in cents):
        raise Unusable(f"{where}: string_cents holds a value that is not within 100 cents of the named pitch")
    changes: dict[str, dict[int, float]] = {}
    pairs: dict[frozenset[str], dict[int, float]] = {}
    for name, pulls in document.changes.items():
        _check_pulls(where, name, pulls, len(opens))
        if "+" not in name:
            changes[name] = pulls
    for name, pulls in document.changes.items():
        if "+" in name:
            pair = _pair(where, name, changes)
            if pair in pairs:
                raise Unusable(f'{where}: change "{name}" is given twice; wanted one entry for a pair')
            pairs[pair] = pulls
    for name, value in document.drop_cents.items():
        if name not in changes:
            raise Unusable(f'{where}: drop_cents names "{name}"; the copedent has {_listed(changes)}')
        if not abs(value) <= 100.0:
            raise Unusable(f'{where}: drop_cents of "{name}" is {value:g}; wanted cents, at most 100')
    drops = {name: value / 100.0 for name, value in document.drop_cents.items()}
    strings = tuple(midi + value / 100.0 for midi, value in zip(opens, cents, strict=True))
    return Copedent(document.name or where, strings, changes, pairs, drops, document.measured)


def _check_pulls(where: str, name: str, pulls: Mapping[int, float], count: int) -> None:
    for string, semitones in pulls.items():
        if not 1 <= string <= count:
            raise Unusable(f'{where}: change "{name}" moves string {string}; the copedent has strings 1 to {count}')
        if not math.isfinite(semitones) or abs(semitones) > 12.0:
            raise Unusable(f'{where}: change "{name}" moves string {string} by {semitones}; wanted semitones within 12')


def _pair(where: str, name: str, changes: Mapping[str, object]) -> frozenset[str]:
    members = frozenset(part.strip() for part in name.split("+"))
    if len(members) != 2 or not members <= changes.keys():
        raise Unusable(f'{where}: change "{name}" is no pair of {_listed(changes)}')
    return members


def read_lesson(text: str, where: str, copedent_for: Callable[[str], Copedent]) -> Lesson:
    """A lesson from the text of its file; `copedent_for` gives the copedent that the lesson names."""
    document = read_document(text, LessonFile, where)
    _positive(where, "tempo", document.tempo)
    if not SLOWEST <= document.tempo <= FASTEST:
        raise Unusable(f"{where}: tempo is {document.tempo:g}; wanted {SLOWEST:g} to {FASTEST:g} beats a minute")
    reference = None if isinstance(document.reference, str) else document.reference
    if reference is not None:
        _positive(where, "reference", reference)
        if not 220.0 <= reference <= 880.0:
            wanted = '"take", or the frequency of A4 in Hz (440 or near it)'
            raise Unusable(f"{where}: reference is {reference:g}; wanted {wanted}")
    if re.fullmatch(r"[1-9]\d?/(1|2|4|8|16|32)", document.meter) is None:
        raise Unusable(f'{where}: meter is "{document.meter}"; wanted beats and note value such as "4/4" or "6/8"')
    if not document.figure:
        raise Unusable(f"{where}: no figure; wanted at least one [[figure]]")
    copedent = copedent_for(document.copedent)
    figures: dict[str, Figure] = {}
    for written in document.figure:
        if written.name in figures:
            raise Unusable(f'{where}: figure "{written.name}": two figures have this name; wanted one name for each')
        _check_backing(where, document.backing, written)
        figures[written.name] = _Builder(where, written, copedent).build()
    return Lesson(
        title=document.title or where,
        tempo=document.tempo,
        meter=document.meter,
        copedent=copedent,
        copedent_name=document.copedent,
        figures=tuple(figures.values()),
        tolerances=document.tolerances,
        backing=document.backing,
        reference_hz=reference,
    )


def _check_backing(where: str, backing: str | None, written: FigureFile) -> None:
    """Where there is a backing, each figure says where it begins in it; where there is none, none does."""
    where = f'{where}: figure "{written.name}"'
    if backing is not None and written.backing_at is None:
        raise Unusable(f"{where}: says not where it begins in the backing; wanted backing_at, in seconds")
    if backing is None and written.backing_at is not None:
        raise Unusable(f'{where}: has backing_at, but the lesson has no backing; wanted backing = "FILE" at its head')
    if written.backing_at is not None and not (math.isfinite(written.backing_at) and written.backing_at >= 0.0):
        raise Unusable(f"{where}: backing_at is {written.backing_at}; wanted seconds, zero or more")


class _Builder:
    """Fills in what the steps of one figure leave out, and checks them in order."""

    def __init__(self, where: str, written: FigureFile, copedent: Copedent) -> None:
        self.where = f'{where}: figure "{written.name}"'
        self.written = written
        self.copedent = copedent
        self.strings = range(1, len(copedent.strings) + 1)
        self.stance: Stance | None = None
        self.ringing: set[int] = set()
        self.bar_since: Fraction | None = None
        self.changes_since: Fraction | None = None

    def build(self) -> Figure:
        length = _guard(self.where, "length", parse_beat, self.written.length)
        if not 0 < length <= 1000:
            raise Unusable(f"{self.where}: length is {self.written.length}; wanted beats above zero, at most 1000")
        if not self.written.steps:
            raise Unusable(f"{self.where}: has no steps; wanted at least one")
        steps: list[Step] = []
        for number, step in enumerate(self.written.steps, start=1):
            steps.append(self._step(number, step, steps[-1] if steps else None, 1 + length))
        if not any(step.pick for step in steps):
            raise Unusable(f"{self.where}: picks no string in any step; wanted at least one pick")
        return Figure(self.written.name, length, tuple(steps), self.written.backing_at)

    def _step(self, number: int, written: StepFile, before: Step | None, end: Fraction) -> Step:
        where = f"{self.where}, step {number}"
        beat = _guard(where, "beat", parse_beat, written.beat)
        if not 1 <= beat < end:
            raise Unusable(f"{where}: beat {written.beat} lies outside the figure; wanted 1 to below {beat_text(end)}")
        if before is not None and beat <= before.beat:
            last = f"step {before.number}'s {beat_text(before.beat)}"
            raise Unusable(f"{where}: beat {beat_text(beat)} is out of order; wanted a beat after {last}")
        if before is not None and before.pick and beat <= (struck := before.pick_beat(before.pick[-1])):
            rolled = f"step {before.number}, which rolls until beat {beat_text(struck)}"
            raise Unusable(f"{where}: beat {beat_text(beat)} is out of order; wanted a beat after {rolled}")
        stance = self._stance(where, written)
        pick = tuple(written.pick or ())
        self._check_strings(where, "pick", pick)
        block = self._block(where, written)
        moves_bar = self.stance is not None and stance.bar != self.stance.bar
        moves_changes = self.stance is not None and (stance.down != self.stance.down or stance.pull != self.stance.pull)
        if written.pick is not None and not pick:
            raise Unusable(f"{where}: pick is empty; leave it out where nothing is struck")
        if not pick and (moves_bar or moves_changes) and not self.ringing:
            raise Unusable(f"{where}: a move with nothing ringing; wanted a pick before it, or in this step")
        over = self._over(where, written, beat, moves_bar, moves_changes)
        keeps = self._keeps(where, written)
        roll = self._beats(where, "roll", written.roll)
        if roll and beat + roll * (len(pick) - 1) >= end:
            raise Unusable(f"{where}: roll reaches beyond the figure's end at beat {beat_text(end)}")
        if not pick and (written.harmonic or written.swell or written.ring or roll):
            raise Unusable(f"{where}: ring, roll, harmonic and swell belong to a pick; this step picks nothing")
        self._ring(pick, keeps, block)
        self._check_slant(where, stance.bar)
        if moves_bar or self.stance is None:
            self.bar_since = beat
        if moves_changes or self.stance is None:
            self.changes_since = beat
        self.stance = stance
        return Step(
            number=number, beat=beat, stance=stance, over=over, moves_bar=moves_bar, moves_changes=moves_changes,
            pick=pick, keeps=keeps, roll=roll, harmonic=written.harmonic, swell=written.swell, block=block,
            vibrato=written.vibrato, remark=written.remark,
        )  # fmt: skip

    def _stance(self, where: str, written: StepFile) -> Stance:
        bar = self._bar(where, written)
        before = self.stance
        down = dict(before.down) if before else {}
        if written.down is not None:
            down = dict(written.down) if isinstance(written.down, dict) else dict.fromkeys(written.down, 1.0)
        for name, amount in down.items():
            if name not in self.copedent.changes:
                raise Unusable(f'{where}: down names "{name}"; the copedent has {_listed(self.copedent.changes)}')
            if not (math.isfinite(amount) and 0.0 <= amount <= 1.0):
                raise Unusable(f'{where}: down has "{name}" at {amount}; wanted 0 (up) to 1 (all the way down)')
        pull = dict(before.pull) if before else {}
        if written.pull is not None:
            pull = dict(written.pull)
            self._check_strings(where, "pull", pull)
            for string, semitones in pull.items():
                if not (math.isfinite(semitones) and 0.0 <= semitones <= 12.0):
                    raise Unusable(f"{where}: pull raises string {string} by {semitones}; wanted 0 to 12 semitones")
        engaged = {name: amount for name, amount in down.items() if amount > 0.0}
        return Stance(bar, engaged, {string: semitones for string, semitones in pull.items() if semitones})

    def _bar(self, where: str, written: StepFile) -> Bar:
        if written.fret is not None and written.slant is not None:
            raise Unusable(f"{where}: both fret and slant; wanted one of them")
        if written.slant is not None:
            self._check_strings(where, "slant", written.slant)
            if not written.slant:
                raise Unusable(f"{where}: slant is empty; wanted a fret for one string or more")
            for fret in written.slant.values():
                _check_fret(where, fret)
            return Bar.slanted(written.slant)
        if written.fret is not None:
            _check_fret(where, written.fret)
            return Bar.straight(written.fret)
        if self.stance is None:
            raise Unusable(f"{where}: the first step gives no position; wanted fret or slant")
        return self.stance.bar

    def _check_slant(self, where: str, bar: Bar) -> None:
        """A slanted bar's line may leave the neck, but not on a string that sounds."""
        for string in sorted(self.ringing):
            fret = bar.fret_at(string)
            if not -1e-9 <= fret <= HIGHEST_FRET + 1e-9:
                beyond = f"the slanted bar lies at fret {fret:g} on string {string}, which rings"
                raise Unusable(f"{where}: {beyond}; wanted 0 (open) to {HIGHEST_FRET:g} there")

    def _block(self, where: str, written: StepFile) -> frozenset[int] | None:
        if isinstance(written.block, str):
            return None
        self._check_strings(where, "block", written.block or ())
        return frozenset(written.block or ())

    def _keeps(self, where: str, written: StepFile) -> frozenset[int] | None:
        if isinstance(written.ring, bool):
            return None if written.ring else frozenset()
        self._check_strings(where, "ring", written.ring)
        return frozenset(written.ring)

    def _over(self, where: str, written: StepFile, beat: Fraction, moves_bar: bool, moves_changes: bool) -> Fraction:
        before = ((moves_bar, self.bar_since), (moves_changes, self.changes_since))
        sinces = [since for moved, since in before if moved and since is not None]
        room = beat - max(sinces) if sinces else None
        if written.over is None:
            return DEFAULT_OVER if room is None else min(DEFAULT_OVER, room)
        over = self._beats(where, "over", written.over)
        if over == 0:
            raise Unusable(f"{where}: over is zero; wanted beats above zero")
        if room is not None and over > room:
            wanted = f"at most {beat_text(room)}, the beats since the last move of the same kind"
            raise Unusable(f"{where}: over is {beat_text(over)} and reaches too far back; wanted {wanted}")
        return over

    def _beats(self, where: str, key: str, written: int | float | str) -> Fraction:
        beats = _guard(where, key, parse_beat, written)
        if beats < 0:
            raise Unusable(f"{where}: {key} is {written}; wanted beats, not below zero")
        return beats

    def _check_strings(self, where: str, key: str, strings: Iterable[int]) -> None:
        given = list(strings)
        last = len(self.strings)
        for string in given:
            if string not in self.strings:
                raise Unusable(f"{where}: {key} names string {string}; the copedent has strings 1 to {last}")
        if len(set(given)) != len(given):
            raise Unusable(f"{where}: {key} names a string twice")

    def _ring(self, pick: tuple[int, ...], keeps: frozenset[int] | None, block: frozenset[int] | None) -> None:
        self.ringing = set() if block is None else self.ringing - block
        if pick:
            kept = self.ringing if keeps is None else self.ringing & keeps
            self.ringing = kept | set(pick)


def _check_fret(where: str, fret: float) -> None:
    if not (math.isfinite(fret) and 0.0 <= fret <= HIGHEST_FRET):
        raise Unusable(f"{where}: fret {fret} is not on the neck; wanted 0 (open) to {HIGHEST_FRET:g}")


def _positive(where: str, key: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise Unusable(f"{where}: {key} is {value}; wanted a finite number above zero")


Given = TypeVar("Given")
Read = TypeVar("Read")


def _guard(where: str, key: str, read: Callable[[Given], Read], given: Given) -> Read:
    try:
        return read(given)
    except ValueError as error:
        raise Unusable(f"{where}: {key}: {error}") from None


def _listed(names: Iterable[str]) -> str:
    ordered = list(names)
    return ", ".join(ordered) if ordered else "no pedals or levers"
