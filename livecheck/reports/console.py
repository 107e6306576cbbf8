"""The report for a person at a terminal: what to mend, the worst first, then the verdict in a line and what to work on.

The verdict stands at the end because a terminal shows the end: it is to be read from behind the instrument.

In: the verdict on a take and its lesson. Out: a renderable as wide as it is told. It reads the same without colour;
nothing in a title, a name or a cause is taken for markup, and control characters are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from livecheck.judging.verdict import ASTRAY, CheckpointVerdict, FigureVerdict, TakeVerdict
from livecheck.lesson.figure import Lesson
from livecheck.lesson.listing import listed
from livecheck.lesson.pitch import A4_MIDI, hz_of
from livecheck.reports.advice import advice
from livecheck.reports.hanging import Hanging
from livecheck.reports.headline import detail, headline
from livecheck.reports.mistake import Mistake, mistakes_of
from livecheck.reports.outcome import take_outcome
from livecheck.reports.wording import counted, numbered, plain, times_text

TUNING_WORTH_TELLING_CENTS = 10.0
TEMPO_WORTH_TELLING = 0.02
"""A figure's tempo is told where it is off the take's by this share: about the smallest difference that is heard
in a steady beat (2.5 % of the interval; Friberg and Sundberg, J. Acoust. Soc. Am. 98(5), 1995)."""


def render(verdict: TakeVerdict, lesson: Lesson) -> RenderableType:
    """The report on one take."""
    found = [(figure, mistakes_of(figure)) for figure in verdict.figures]
    mistakes = [mistake for _, several in found for mistake in several]
    parts: list[RenderableType] = [Text(), *_facts(verdict, lesson)]
    for figure, several in found:
        if several or figure.unsure or figure.broken_off is not None:
            parts.extend([Text(), *_figure(figure, several, verdict, lesson)])
    if not verdict.clean:
        parts.extend([*_others(verdict), Text()])
    parts.append(_banner(take_outcome(verdict)))
    if mistakes:
        parts.append(Text("Work on:"))
        parts.extend(Hanging(sentence, "  ") for sentence in advice(mistakes, lesson.copedent))
    return Group(*parts)


def render_unusable(take: str, why: str) -> RenderableType:
    """In place of a report, for a take that could not be graded."""
    return Group(Text(), Hanging(f"{plain(take)}: {plain(why)}"), _banner("not graded"))


def render_summary(verdicts: Sequence[TakeVerdict], lesson: Lesson, unusable: int = 0) -> RenderableType:
    """What sums up several takes."""
    clean = sum(verdict.clean for verdict in verdicts)
    counts = [(clean, "clean"), (len(verdicts) - clean, "not clean"), (unusable, "not graded")]
    told = ", ".join(f"{count} {what}" for count, what in counts if count)
    mistakes = [mistake for verdict in verdicts for figure in verdict.figures for mistake in mistakes_of(figure)]
    lines = [Hanging(f"Most of all: {sentence}") for sentence in advice(mistakes, lesson.copedent)[:1]]
    return Group(Text(), _banner(f"{len(verdicts) + unusable} takes: {told}"), *lines)


def _banner(text: str) -> Text:
    """The words to be read from across the room."""
    return Text(f" {text.upper()} ", style="bold reverse")


def _facts(verdict: TakeVerdict, lesson: Lesson) -> Iterator[RenderableType]:
    figures = f", {counted(len(verdict.figures), 'figure')}" if verdict.clean else ""
    tempo = f", tempo {verdict.tempo:.0f} (lesson {lesson.tempo:.0f})" if verdict.tempo is not None else ""
    yield Hanging(f"{plain(verdict.take)}: {plain(verdict.lesson)}{figures}{tempo}", style="bold")
    if lesson.copedent.measured is not None:
        yield Hanging(f"In tune is what the instrument was measured to be on {lesson.copedent.measured.isoformat()}.")
    cents = verdict.tuning_cents
    if lesson.reference_hz is None and abs(cents) > TUNING_WORTH_TELLING_CENTS:
        off = (
            f"{abs(cents):.0f} cents {'flat' if cents < 0 else 'sharp'} (A4 at {hz_of(A4_MIDI + cents / 100.0):.1f} Hz)"
        )
        yield Hanging(f"The whole take is {off}: bar or tuning. Taken off before judging.")


def _figure(
    figure: FigureVerdict, mistakes: Sequence[Mistake], verdict: TakeVerdict, lesson: Lesson
) -> Iterator[RenderableType]:
    start = f" at {figure.start_s:.1f} s" if figure.start_s is not None else ""
    yield Hanging(f"Figure {_name(figure, verdict)}{start}{_tempo_text(figure, verdict)}", style="bold")
    for mistake in mistakes:
        yield Hanging(headline(mistake, figure.figure, lesson.copedent), "  ", 4)
        told = detail(mistake, figure.figure, lesson.copedent)
        if told is not None:
            yield Hanging(told, "      ", 0, style="dim")
    last = len(figure.figure.steps) if figure.broken_off is None else figure.broken_off
    if figure.broken_off is not None:
        yield Hanging(f"broken off after step {figure.broken_off}, and begun anew", "  ", 4)
    unjudged = [c for c in figure.checkpoints if not c.judged and c.step <= last]
    failed = {c.string: c.step for c in reversed(figure.checkpoints) if ASTRAY & set(c.faults)}
    after = [c for c in unjudged if failed.get(c.string, last) < c.step]
    for what, checkpoints in (
        ("unsure, too little of it can be told from the rest", figure.unsure),
        ("not judged after that", after),
        ("no longer heard well enough to be judged", [c for c in unjudged if c not in after]),
    ):
        if checkpoints:
            yield Hanging(f"{what}: {_places(checkpoints)}", "  ", 4, style="dim")


def _places(checkpoints: Sequence[CheckpointVerdict]) -> str:
    steps = sorted({c.step for c in checkpoints})
    return "; ".join(
        f"step {step}, {numbered('string', sorted({c.string for c in checkpoints if c.step == step}))}"
        for step in steps
    )


def _tempo_text(figure: FigureVerdict, verdict: TakeVerdict) -> str:
    if figure.tempo is None or verdict.tempo is None or abs(figure.tempo / verdict.tempo - 1.0) < TEMPO_WORTH_TELLING:
        return ""
    return f", {'faster' if figure.tempo > verdict.tempo else 'slower'} than the rest: tempo {figure.tempo:.0f}"


def _others(verdict: TakeVerdict) -> Iterator[RenderableType]:
    """The figures that need no words: clean, or not played."""
    for what, figures in (
        ("Not found in this take", [figure for figure in verdict.figures if not figure.found]),
        ("Clean", [figure for figure in verdict.figures if figure.clean]),
    ):
        if figures:
            noun = "figure" if len(figures) == 1 else "figures"
            yield Text()
            yield Hanging(f"{what}: {noun} {listed([_name(figure, verdict) for figure in figures])}")


def _name(figure: FigureVerdict, verdict: TakeVerdict) -> str:
    name = plain(figure.figure.name)
    again = sum(other.figure.name == figure.figure.name for other in verdict.figures) > 1
    return f"{name} ({times_text(figure.attempt)})" if again else name
