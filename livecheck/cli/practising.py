"""Practice as it goes: count in, listen, tell, again. What comes next is the plan's business (`lesson/plan.py`)."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Literal

from livecheck.cli.live_audio import LiveAudio
from livecheck.cli.live_midi import LiveMidi
from livecheck.cli.midi_stand import MidiStand
from livecheck.cli.output import put, say, show
from livecheck.cli.record import attempt_of
from livecheck.cli.rest import REST, Rest
from livecheck.cli.stand import Broken, CountIn, Ended, Stand
from livecheck.engine import Brief
from livecheck.errors import NothingFound
from livecheck.judging.verdict import TakeVerdict
from livecheck.keeping.keeper import NOT_KEPT, Keeper
from livecheck.lesson.figure import Figure
from livecheck.lesson.plan import Plan
from livecheck.lesson.span import Span
from livecheck.reports.large import Large
from livecheck.reports.practice import (
    announced,
    by_ear,
    is_another_tempo,
    mistakes_told,
    verdict_in_large,
    worst_step,
)
from livecheck.sources.backing import Backing
from livecheck.sources.click import clicks
from livecheck.sources.example import example
from livecheck.sources.voice import Outcome, spoken, tones

FADE_S = 6.0
"""Strings that ring longer than this are not talked over: what was wrong stands on the screen."""
SAME_TEMPO = 0.01
"""Beats a minute."""


@dataclass(frozen=True)
class Manner:
    """How the player wants it."""

    click: Literal["count-in", "all", "backing", "none"]
    by_ear: Literal["speech", "tones", "none"]
    level_db: float
    breath_s: float
    folder: Path
    plays_step: bool = False
    """Whether the step that went wrong is then played as it should sound."""
    backing: Backing | None = None
    """What is played with, at the lesson's tempo."""


class Practising:
    """`done = Practising(…).run()`."""

    def __init__(self, stand: Stand | MidiStand, brief: Brief, plan: Plan, manner: Manner) -> None:
        self._stand = stand
        self._brief = brief
        self._plan = plan
        self._manner = manner
        self._goal_tempo = brief.lesson.tempo
        self._told = False
        self._kept = False
        self._rest = Rest()

    def run(self) -> bool:
        """Practise; whether the whole lesson was passed."""
        plays_on = False
        try:
            self._stand.open()
            while not self._plan.done:
                try:
                    self._once(counted_in=not plays_on and self._manner.click != "none")
                    plays_on = not self._plan.done and self._stand.wait(self._manner.breath_s)
                except Broken:
                    plays_on = False
        except Ended:
            put(f"\nEnded.{' What you played is kept.' if self._kept else ''}\n")
        else:
            put("\nThe whole lesson is passed.\n")
        return self._plan.done

    def _once(self, *, counted_in: bool) -> None:
        """One attempt, from its announcement until it has been told."""
        figures = [self._brief.figures[number] for number in self._plan.next]
        self._announce(figures)
        lesson = replace(self._brief.lesson, tempo=self._plan.tempo)
        brief = replace(self._brief, lesson=lesson, figures=tuple(figures))
        span = Span.of(figures, lesson.copedent, lesson.tempo).with_pauses(self._pauses_s(figures))
        start = self._stand.count_in(self._count_in(brief, span)) if counted_in else None
        put("Play.\n")
        first = self._stand.until_played()
        if counted_in and self._manner.click in ("all", "backing"):
            brief = self._timed(brief, None if start is None else start - first)
        keeper = Keeper(self._manner.folder, lesson.title, datetime.now().astimezone(), self._tell_once)
        try:
            live = self._stand.attempt(brief, keeper, span)
            self._judge(live, keeper)
        finally:
            self._kept = self._kept or keeper.path != NOT_KEPT
            keeper.close()

    def _announce(self, figures: Sequence[Figure]) -> None:
        if self._rest.is_due():
            put(f"\n{REST}\n")
        put("\n")
        _show_large(announced(figures, self._plan))

    def _count_in(self, brief: Brief, span: Span) -> CountIn:
        lesson = brief.lesson
        bar = int(lesson.meter.partition("/")[0])
        backing = self._backing(brief.figures)
        goes_on = self._manner.click in ("all", "backing") and backing is None
        beats = bar + (round(span.longest_s / lesson.beat_s) if goes_on else 0)
        samples = clicks(beats, lesson.tempo, bar, self._stand.rate_hz, self._manner.level_db)
        if backing is not None:
            bar_s = bar * lesson.beat_s
            with_it = backing.part((brief.figures[0].backing_s or 0.0) - bar_s, bar_s + span.longest_s)
            with_it[: len(samples)] += samples[: len(with_it)]
            samples = with_it
        return CountIn(samples, round(bar * lesson.beat_s * self._stand.rate_hz))

    def _backing(self, figures: Sequence[Figure]) -> Backing | None:
        """What is played with; None below the lesson's tempo, and where the file has the figures in another order: then
        a click does."""
        begins_s = [figure.backing_s or 0.0 for figure in figures]
        is_at_tempo = abs(self._plan.tempo - self._goal_tempo) < SAME_TEMPO
        return self._manner.backing if is_at_tempo and begins_s == sorted(begins_s) else None

    def _pauses_s(self, figures: Sequence[Figure]) -> list[float]:
        """What the backing has between one figure and the next."""
        if self._backing(figures) is None:
            return []
        beat_s = 60.0 / self._plan.tempo
        return [
            max(0.0, (after.backing_s or 0.0) - (before.backing_s or 0.0) - float(before.length) * beat_s)
            for before, after in pairwise(figures)
        ]

    def _timed(self, brief: Brief, frames: int | None) -> Brief:
        """A brief by which time is judged by the click, or by the backing. `frames`: when the first beat came out of
        the device, after the take began; as the player hears and is heard it comes later by the latency."""
        latency_ms = self._stand.latency_ms(self._manner.folder)
        if frames is None or latency_ms is None:
            return replace(brief, timing="click")
        start_s = frames / self._stand.rate_hz + latency_ms / 1000.0
        if self._backing(brief.figures) is None:
            return replace(brief, timing="click", start_s=start_s)
        first_s = brief.figures[0].backing_s or 0.0
        begins_s = tuple(start_s + (figure.backing_s or 0.0) - first_s for figure in brief.figures)
        return replace(brief, timing="click", begins_s=begins_s)

    def _judge(self, live: LiveAudio | LiveMidi, keeper: Keeper) -> None:
        """Keep the verdict, tell it, and go on in the plan."""
        try:
            verdict = live.finish()
        except NothingFound:
            self._tell("nothing", "not heard as asked: once more", [])
            return
        whole = not live.gaps_s
        self._keep(verdict, len(live.gaps_s), keeper)
        clean = verdict.passed
        if not whole:
            self._tell("nothing", "sound was lost: once more", [])
            return
        if clean and self._manner.click != "none" and is_another_tempo(verdict, self._plan):
            self._tell("nothing", "another tempo", [f"clean at {verdict.tempo:.0f}, asked {self._plan.tempo:.0f}"])
            return
        before, self._plan = self._plan, self._plan.after(clean)
        copedent = self._brief.lesson.copedent
        self._tell(
            "clean" if clean else "faulty",
            verdict_in_large(verdict, before, self._plan),
            mistakes_told(verdict, copedent),
            worst_step(verdict) if self._manner.plays_step else None,
        )

    def _keep(self, verdict: TakeVerdict, gaps: int, keeper: Keeper) -> None:
        found = [figure for figure in verdict.figures if figure.found]
        keeper.revise([attempt_of(figure, keeper.began, gaps, provisional=False) for figure in found])

    def _tell(
        self, outcome: Outcome, in_large: str, mistakes: Sequence[str], step: tuple[Figure, int] | None = None
    ) -> None:
        """On the screen at once; by ear when the strings have faded, and then a step as it should sound."""
        put("".join(f"  {mistake}\n" for mistake in mistakes))
        _show_large(in_large)
        if (self._manner.by_ear == "none" and step is None) or not self._stand.until_quiet(FADE_S):
            return
        rate_hz, level_db = self._stand.rate_hz, self._manner.level_db
        if self._manner.by_ear != "none":
            speaks = self._manner.by_ear == "speech"
            said = spoken(by_ear(outcome, mistakes), rate_hz, level_db) if speaks else None
            self._stand.tell(tones(outcome, rate_hz, level_db) if said is None else said)
        if step is not None:
            copedent, tempo = self._brief.lesson.copedent, self._plan.tempo
            self._stand.tell(example(step[0], copedent, step[1], tempo, rate_hz, level_db))

    def _tell_once(self, sentence: str) -> None:
        """A folder that cannot be written is told for the first attempt only."""
        if not self._told:
            self._told = True
            say(sentence)


def _show_large(text: str) -> None:
    """To be read from behind the instrument; in plain letters where there is no terminal."""
    if sys.stdout.isatty():
        show(Large(text))
    else:
        put(f"{text}\n")
