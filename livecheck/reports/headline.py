"""A mistake in words: a headline that says what was wrong, and a line that says what was asked and what was heard.

Times are seconds from the start of the take; pitches have the take's own tuning taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from statistics import fmean

from livecheck.judging.verdict import CheckpointVerdict
from livecheck.lesson.beat import beat_text
from livecheck.lesson.copedent import Copedent
from livecheck.lesson.expectation import expect
from livecheck.lesson.figure import Figure, Stance
from livecheck.lesson.listing import listed
from livecheck.lesson.pitch import name_of
from livecheck.reports.mistake import TOGETHER_MS, Mistake
from livecheck.reports.wording import feet_texts, ms_text, near_name, numbered, plain, stance_before, step_text

NEAR_CENTS = 70.0
"""From here on the name of the note heard says more than cents do."""
ALIKE_CENTS = 3.0
"""Strings off by amounts no further apart are told one amount."""


def headline(mistake: Mistake, figure: Figure, copedent: Copedent) -> str:
    """Where and what: step 3, strings 5 and 8: slide arrived 180 ms late."""
    where = [numbered("step", mistake.steps)] if mistake.steps else []
    if mistake.extras:
        return ": ".join([*where, _extras(mistake)])
    return f"{', '.join([*where, numbered('string', mistake.strings)])}: {_what(mistake, figure, copedent)}"


def detail(mistake: Mistake, figure: Figure, copedent: Copedent) -> str | None:
    """What was asked and what was heard; None where the headline says it all."""
    if mistake.extras:
        return None
    asked = step_text(figure, mistake.steps[0])
    first = [c for c in mistake.checkpoints if c.step == mistake.steps[0]]
    if mistake.fault in ("early", "late"):
        expected_s = fmean(c.expected_s for c in first)
        heard_s = [c.heard_s for c in first if c.heard_s is not None]
        heard = f"heard {fmean(heard_s):.2f} s" if heard_s else "not heard"
        return f"{asked}: asked {expected_s:.2f} s, {heard}"
    if mistake.fault == "cut-short":
        return f"{asked}: to ring until beat {_end_text(mistake, figure, copedent)}"
    if mistake.fault == "rang-on":
        return f"{asked}: to be silent from beat {_end_text(mistake, figure, copedent)}"
    names = listed([near_name(c.expected_midi) for c in first])
    return f"{asked}: asked {names}, heard {_heard_text(first)}"


def _extras(mistake: Mistake) -> str:
    if mistake.fault == "extra-pick":
        struck = numbered("string", mistake.strings) if mistake.strings else "a string"
        return f"{struck} picked again at {listed(list(dict.fromkeys(f'{e.at_s:.1f} s' for e in mistake.extras)))}"
    notes = [f"{name_of(e.midi)} at {e.at_s:.1f} s" for e in mistake.extras]
    return f"{'a note that is' if len(notes) == 1 else 'notes that are'} not in the figure: {listed(notes)}"


def _what(mistake: Mistake, figure: Figure, copedent: Copedent) -> str:
    arrives = mistake.kind == "arrive"
    if mistake.cause is not None:
        return plain(mistake.cause)
    match mistake.fault:
        case "missed":
            return "not heard"
        case "wrong-note":
            return "arrived at another note" if arrives else "another note"
        case "missed-move":
            return "did not move"
        case "early" | "late":
            mover = _mover(mistake, figure, copedent) if arrives else "picked"
            return f"{mover} {_amount_ms(mistake.offs_ms)}{mistake.fault}"
        case "flat" | "sharp":
            return f"{'arrived ' if arrives else ''}{_amounts_cents(mistake.offs_cents)}{mistake.fault}"
        case "cut-short":
            return f"cut short{' after the move' if arrives else ''}"
        case _:
            return "rang on"


def _mover(mistake: Mistake, figure: Figure, copedent: Copedent) -> str:
    """What was to arrive: slide arrived, LKR off, slide with B down arrived."""
    moves = {checkpoint.move for checkpoint in mistake.checkpoints}
    number = mistake.steps[0]
    before, after = (
        _on_strings(stance, mistake.strings, copedent)
        for stance in (stance_before(figure, number), figure.steps[number - 1].stance)
    )
    feet = listed(feet_texts(before, after)) if moves - {"slide"} else ""
    if moves & {"slide", "both"}:
        return f"slide with {feet} arrived" if feet else "slide arrived"
    return feet or "move arrived"


def _on_strings(stance: Stance, strings: Sequence[int], copedent: Copedent) -> Stance:
    """As much of a stance as pulls some strings."""
    pulling = {name for name, pulls in copedent.changes.items() if any(pulls.get(string) for string in strings)}
    down = {name: amount for name, amount in stance.down.items() if name in pulling}
    return Stance(stance.bar, down, {string: pull for string, pull in stance.pull.items() if string in strings})


def _amount_ms(offs_ms: Sequence[float]) -> str:
    if not offs_ms:
        return ""
    least, most = min(map(abs, offs_ms)), max(map(abs, offs_ms))
    if most - least <= TOGETHER_MS:
        return f"{ms_text(fmean(offs_ms))} "
    return f"{ms_text(least).removesuffix(' ms')} to {ms_text(most)} "


def _amounts_cents(offs_cents: Sequence[float]) -> str:
    if not offs_cents:
        return ""
    sizes = [abs(cents) for cents in offs_cents]
    if max(sizes) - min(sizes) <= ALIKE_CENTS:
        return f"{fmean(sizes):.0f} cents "
    return f"{listed([f'{size:.0f}' for size in sizes])} cents "


def _heard_text(checkpoints: Sequence[CheckpointVerdict]) -> str:
    near = [c.cents for c in checkpoints if c.cents is not None and abs(c.cents) < NEAR_CENTS]
    if len(near) == len(checkpoints) and len({cents < 0.0 for cents in near}) == 1:
        return f"{_amounts_cents(near)}{'flat' if near[0] < 0.0 else 'sharp'}"
    return listed([_heard_on_one(checkpoint) for checkpoint in checkpoints])


def _heard_on_one(checkpoint: CheckpointVerdict) -> str:
    cents = checkpoint.cents
    if checkpoint.heard_midi is None:
        return "nothing" if "missed" in checkpoint.faults else "no steady pitch"
    if cents is None:
        return near_name(checkpoint.heard_midi)
    if abs(cents) >= NEAR_CENTS:
        return near_name(checkpoint.expected_midi + cents / 100.0)
    return f"{abs(cents):.0f} cents {'flat' if cents < 0.0 else 'sharp'}"


def _end_text(mistake: Mistake, figure: Figure, copedent: Copedent) -> str:
    """The beat on which the string was to end."""
    first = mistake.checkpoints[0]
    note = next(
        n
        for n in expect(figure, copedent).notes
        if any(c.step == first.step and c.string == first.string for c in n.checkpoints)
    )
    return beat_text(Fraction(note.end_beat).limit_denominator(1000))
