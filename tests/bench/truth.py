"""The truth about a performance, read off the performance itself by the definitions of the faults.

Nothing here listens: times and pitches are those that were played, so that the truth holds for audio and MIDI alike. A
value too near a limit to be called right or wrong is `Unclear`; such a performance is thrown away and another is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from livecheck.lesson.expectation import Checkpoint, Note
from livecheck.lesson.figure import Lesson
from tests.bench.bank import Bank, bank
from tests.bench.performance import Performance, Struck, tolerance_s
from tests.bench.render import level_db

CENTS, WRONG_CENTS, SHORT_SHARE, RANG_ON_S = 15.0, 60.0, 0.5, 0.25
SETTLING_S, LEAST_SETTLED_S = 0.06, 0.08
LEAST_ROOM_S = 0.22
"""From a pick or arrival to whatever follows on a string that is mistimed: a shorter one is not planted."""
LEAST_GLIDE = 0.3
"""Semitones: a smaller change of a held string is the hand's unsteadiness and no move."""
FAILED = frozenset({"missed", "wrong-note", "missed-move"})


class Unclear(Exception):
    """The performance lies too near a limit to be a measure."""


@dataclass(frozen=True)
class Finding:
    """The truth about one checkpoint."""

    checkpoint: Checkpoint
    judged: bool
    expected_s: float
    heard_s: float | None
    heard_midi: float | None
    faults: tuple[str, ...]
    note: int
    """Index of the note in the performance."""


def findings(performance: Performance) -> tuple[Finding, ...]:
    """The truth about all checkpoints, in order of step and string. Raises Unclear."""
    found: list[Finding] = []
    for index, (note, struck) in enumerate(zip(performance.expectation.notes, performance.notes, strict=True)):
        judged = True
        for place, checkpoint in enumerate(note.checkpoints):
            following = note.checkpoints[place + 1].beat if place + 1 < len(note.checkpoints) else None
            finding = _finding(performance, note, index, struck, checkpoint, following, judged)
            found.append(finding)
            judged = judged and not FAILED & set(finding.faults)
    found.sort(key=lambda f: (f.checkpoint.step, f.checkpoint.string))
    _check_searchable(performance, found)
    return tuple(found)


def _finding(
    performance: Performance, note: Note, index: int, struck: Struck | None, checkpoint: Checkpoint,
    following: float | None, judged: bool,
) -> Finding:  # fmt: skip
    expected_s = performance.time_of(checkpoint.beat)
    if struck is None:
        absent: tuple[str, ...] = ("missed",) if checkpoint.kind == "pick" else ()
        return Finding(checkpoint, judged, expected_s, None, None, absent, index)
    heard_s = struck.start_s if checkpoint.kind == "pick" else _arrival(struck, checkpoint.step)
    heard_midi = _settled(struck, expected_s if heard_s is None else heard_s, checkpoint.step)
    if heard_s is None and heard_midi is None and any(glide.step == checkpoint.step for glide in struck.glides):
        moved_on = [g for g in struck.glides if g.step > checkpoint.step and g.start_s < expected_s]
        if not moved_on:
            raise Unclear("neither moved nor stayed")
    if not judged:
        return Finding(checkpoint, False, expected_s, heard_s, heard_midi, (), index)
    faults = _pitch_fault(checkpoint, heard_midi)
    moved = not {"missed-move"} & set(faults)
    if moved and heard_s is not None and not (checkpoint.swell and checkpoint.kind == "pick"):
        tolerance = tolerance_s(performance.expectation, checkpoint.step, performance.beat_s, checkpoint.kind == "pick")
        faults += _timing_fault((heard_s - expected_s) / tolerance)
    if following is None:
        faults += _holding_faults(performance, note, struck, checkpoint, expected_s)
    elif (struck.end_s - expected_s) / ((note.end_beat - checkpoint.beat) * performance.beat_s) < 0.62:
        raise Unclear("cut in a way that may count for an earlier checkpoint")
    swelled = checkpoint.swell and checkpoint.kind == "pick"
    return Finding(checkpoint, True, expected_s, heard_s if moved and not swelled else None, heard_midi, faults, index)


def _arrival(struck: Struck, step: int) -> float | None:
    """When the line through the 20 % and 80 % points of a glide reaches the new pitch.

    None if the string did not move, or if another step's glide overlaps, so that no one can tell when this one ended.
    """
    glides = [glide for glide in struck.glides if glide.step == step]
    if abs(sum(glide.semitones for glide in glides)) < LEAST_GLIDE:
        return None
    start_s, end_s = min(glide.start_s for glide in glides), max(glide.end_s for glide in glides)
    if end_s > struck.end_s:
        raise Unclear("silenced during a move")
    others = [glide for glide in struck.glides if glide.step != step and abs(glide.semitones) >= LEAST_GLIDE]
    if any(other.start_s < end_s and other.end_s > start_s for other in others):
        return None
    times = np.arange(start_s, end_s + 0.0005, 0.0005)
    curve = np.interp(times, struck.times_s, struck.plain)
    share = (curve - curve[0]) / (curve[-1] - curve[0])
    if np.any(np.diff(share) < -1e-6):
        raise Unclear("bar and foot pull against each other")
    low_s, high_s = np.interp([0.2, 0.8], share, times)
    return float(low_s + (high_s - low_s) / 0.6 * 0.8)


def _settled(struck: Struck, since_s: float, step: int) -> float | None:
    """The middle of the pitch from a little after an event until the string moves again or ends."""
    moves = [g.start_s for g in struck.glides if g.step > step and abs(g.semitones) >= LEAST_GLIDE]
    start_s, stop_s = since_s + SETTLING_S, min([struck.end_s, *moves])
    if stop_s - start_s < LEAST_SETTLED_S:
        return None
    inside = (struck.times_s >= start_s) & (struck.times_s <= stop_s)
    return float(np.median(struck.plain[inside]))


def _pitch_fault(checkpoint: Checkpoint, heard: float | None) -> tuple[str, ...]:
    if heard is None:
        return ()
    cents = 100.0 * (heard - checkpoint.midi)
    if checkpoint.from_midi is not None and abs(cents) > 9.0:
        nearer = abs(heard - checkpoint.midi) - abs(heard - checkpoint.from_midi)
        if abs(nearer) < 0.4 and abs(cents) > 20.0:
            raise Unclear("between the old pitch and the new")
        if nearer > 0.0:
            return ("missed-move",)
    if 9.0 < abs(cents) < 21.0 or 48.0 < abs(cents) < 80.0:
        raise Unclear("intonation near a limit")
    if abs(cents) >= WRONG_CENTS:
        return ("wrong-note",)
    if abs(cents) > CENTS:
        return ("flat",) if cents < 0.0 else ("sharp",)
    return ()


def _timing_fault(share: float) -> tuple[str, ...]:
    if 0.65 < abs(share) < 1.4:
        raise Unclear("timing near a limit")
    if abs(share) < 1.0:
        return ()
    return ("early",) if share < 0.0 else ("late",)


def _holding_faults(
    performance: Performance, note: Note, struck: Struck, checkpoint: Checkpoint, expected_s: float
) -> tuple[str, ...]:
    share = (struck.end_s - expected_s) / ((note.end_beat - checkpoint.beat) * performance.beat_s)
    if SHORT_SHARE * 0.8 < share < SHORT_SHARE * 1.16:
        raise Unclear("length near a limit")
    if share < SHORT_SHARE:
        return ("cut-short",)
    if note.ending == "end":
        return ()
    over = (struck.end_s - performance.time_of(note.end_beat)) / max(RANG_ON_S, 0.5 * performance.beat_s)
    if 0.7 < over < 1.25:
        raise Unclear("ringing on near a limit")
    return ("rang-on",) if over > 1.0 else ()


def _check_searchable(performance: Performance, found: Sequence[Finding]) -> None:
    """A mistimed event must lie clearly nearer its own checkpoint than any other of its string, with room to settle."""
    for finding in found:
        if not {"early", "late"} & set(finding.faults) or finding.heard_s is None:
            continue
        off_s = abs(finding.heard_s - finding.expected_s)
        gaps = [
            abs(o.expected_s - finding.expected_s)
            for o in found
            if o is not finding and o.checkpoint.string == finding.checkpoint.string
        ]
        if off_s > min([0.9 * performance.beat_s, *(0.45 * gap for gap in gaps)]):
            raise Unclear("beyond the search")
        note, struck = performance.expectation.notes[finding.note], performance.notes[finding.note]
        assert struck is not None
        for place, checkpoint in enumerate(note.checkpoints):
            begin_s = struck.start_s if place == 0 else _arrival(struck, checkpoint.step)
            moves = [g.start_s for g in struck.glides if g.step > checkpoint.step and abs(g.semitones) >= LEAST_GLIDE]
            if begin_s is None or min([struck.end_s, *moves]) - begin_s < LEAST_ROOM_S:
                raise Unclear("mistimed, so that a pitch has no room to settle")


@dataclass(frozen=True)
class _Pitch:
    """The pitch of a take: how far it and, if it has one, the lesson's fixed pitch are from A4 = 440 Hz."""

    tuning_cents: float
    fixed_cents: float | None

    @property
    def off_cents(self) -> float:
        """What a report does not take off."""
        return 0.0 if self.fixed_cents is None else self.tuning_cents - self.fixed_cents


def report(
    performances: Sequence[Performance],
    missing: Sequence[str],
    lesson: Lesson,
    beat_s: float,
    tuning_cents: float,
    instrument: str | None,
) -> dict[str, Any]:
    """The truth in the shape of livecheck's own report; of the take as MIDI if no instrument is given.

    Where the lesson has a fixed pitch nothing is taken off: what is expected lies as far from A4 = 440 Hz as it does.

    On an instrument each checkpoint also tells how loud the string still was: `level_db` at the event, `later_db`
    half-way through its written time (three quarters of the way to its next move, where it must still ring for that),
    both against the loudest that a note can be.
    """
    fixed = None if lesson.reference_hz is None else 1200.0 * float(np.log2(lesson.reference_hz / 440.0))
    pitch = _Pitch(tuning_cents, fixed)
    attempts: dict[str, int] = {}
    figures = []
    for performance in performances:
        name = performance.expectation.figure.name
        if performance.broken_s is not None:
            continue
        attempts[name] = attempts.get(name, 0) + 1
        figures.append(_figure(performance, attempts[name], pitch, None if instrument is None else bank(instrument)))
    figures += [
        {
            "figure": name,
            "attempt": 1,
            "found": False,
            "start_s": None,
            "tempo": None,
            "clean": False,
            "checkpoints": [],
            "extras": [],
        }
        for name in missing
    ]
    return {
        "format": 1, "lesson": lesson.title, "take": "take.mid" if instrument is None else "take.wav",
        "source": "midi" if instrument is None else "audio",
        "tuning_cents": round(tuning_cents, 2) if fixed is None else 0.0,
        "tempo": round(60.0 / beat_s, 3), "broken": _broken(performances),
        "clean": all(figure["clean"] for figure in figures), "figures": figures,
    }  # fmt: skip


def _broken(performances: Sequence[Performance]) -> list[dict[str, Any]]:
    """What was broken off: neither right nor wrong, for the player began anew."""
    return [
        {"figure": p.expectation.figure.name, "start_s": round(p.start_s, 4), "until_s": round(p.broken_s, 4)}
        for p in performances
        if p.broken_s is not None
    ]


def _figure(performance: Performance, attempt: int, pitch: _Pitch, notes: Bank | None) -> dict[str, Any]:
    checkpoints = [_row(finding, performance, pitch, notes) for finding in findings(performance)]
    extras = sorted((extra(e, pitch) for e in extras_of(performance)), key=lambda e: float(e["at_s"]))
    return {
        "figure": performance.expectation.figure.name, "attempt": attempt, "found": True,
        "start_s": round(performance.start_s, 4),
        "tempo": round(60.0 / performance.beat_s, 3),
        "clean": not extras and not any(row["faults"] for row in checkpoints),
        "checkpoints": checkpoints, "extras": extras,
    }  # fmt: skip


def extras_of(performance: Performance) -> list[tuple[str, float, int, float]]:
    """(fault, at, string, pitch) of everything that was not asked for."""
    again = [
        ("extra-pick", at_s, note.string, note.midi_at(at_s))
        for note in performance.notes
        if note is not None
        for at_s in note.again_s
    ]
    strays = [("extra-note", s.start_s, s.string, s.midi_at(s.start_s)) for s in performance.strays]
    return again + strays


def extra(given: tuple[str, float, int, float], pitch: _Pitch) -> dict[str, Any]:
    fault, at_s, string, midi = given
    return {
        "fault": fault,
        "at_s": round(at_s, 4),
        "string": string,
        "midi": round(midi + pitch.tuning_cents / 100.0, 4),
    }


def _row(finding: Finding, performance: Performance, pitch: _Pitch, notes: Bank | None) -> dict[str, Any]:
    checkpoint, heard = finding.checkpoint, finding.heard_midi
    struck = performance.notes[finding.note]
    return {
        "step": checkpoint.step, "string": checkpoint.string, "kind": checkpoint.kind, "move": checkpoint.move,
        "beat": checkpoint.beat, "judged": finding.judged, "expected_s": round(finding.expected_s, 4),
        "heard_s": None if finding.heard_s is None else round(finding.heard_s, 4),
        "timing_ms": None if finding.heard_s is None else round(1000.0 * (finding.heard_s - finding.expected_s), 2),
        "expected_midi": round(checkpoint.midi + (pitch.fixed_cents or 0.0) / 100.0, 4),
        "heard_midi": None if heard is None else round(heard + pitch.tuning_cents / 100.0, 4),
        "cents": None if heard is None else round(100.0 * (heard - checkpoint.midi) + pitch.off_cents, 2),
        "faults": list(finding.faults), "cause": None,
        "ended_s": None if struck is None else round(struck.end_s, 4), **_levels(finding, performance, notes),
    }  # fmt: skip


def _levels(finding: Finding, performance: Performance, notes: Bank | None) -> dict[str, float]:
    struck = performance.notes[finding.note]
    if struck is None or notes is None:
        return {}
    note = performance.expectation.notes[finding.note]
    following = [c.beat for c in note.checkpoints if c.beat > finding.checkpoint.beat]
    share = 0.75 if following else 0.5
    later_s = share * (min([note.end_beat, *following]) - finding.checkpoint.beat) * performance.beat_s
    at_s = finding.expected_s if finding.heard_s is None else finding.heard_s
    return {
        "level_db": round(level_db(struck, notes, at_s + 0.1), 1),
        "later_db": round(level_db(struck, notes, at_s + later_s), 1),
    }
