"""`livecheck draft` on takes whose truth is known: notes, picks and moves, the round trip, the playing, the speed.

Notes are compared by `mir_eval.transcription` (onset within 50 ms, pitch within 50 cents, ends not looked at); a note
is a string that was struck, at the pitch it was struck at. Picks told from moves: of all settled pitches, struck or
glided to, that were found within 100 ms, the share of the right kind. Round trip: the take is graded against its own
draft. The playing: steps of the draft at the time of a written one whose position is that one, or moves no more.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import mir_eval
import numpy as np
import soundfile
from numpy.typing import NDArray

from livecheck.drafting.draft import Draft, draft
from livecheck.drafting.line import Line
from livecheck.drafting.take import lines_in_audio
from livecheck.engine import AudioEngine, Brief
from livecheck.errors import Unusable
from livecheck.lesson.figure import Step
from livecheck.neck.position import Position, movement_frets
from livecheck.neck.reach import Hold
from livecheck.sources.library import load_tolerances
from tests.bench import render, truth
from tests.bench.bank import bank
from tests.bench.dirt import Heard
from tests.bench.peers import PEER_PYTHON
from tests.bench.room import in_room
from tests.bench.take import Take, make

ONSET_S, ARRIVAL_S, CENTS = 0.05, 0.1, 50.0
FAINTEST_DB = -45.0
SAME_STEP_S = 0.12

Notes = list[tuple[float, float]]
"""(seconds, MIDI number)."""


@dataclass
class Tally:
    """Sums over takes."""

    right: int = 0
    played: int = 0
    told: int = 0
    kinds_right: int = 0
    kinds: int = 0
    figures: int = 0
    clean: int = 0
    steps: int = 0
    steps_as_good: int = 0
    peer_right: int = 0
    peer_told: int = 0
    take_s: float = 0.0
    draft_s: float = 0.0
    faults: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        f1 = 2.0 * self.right / max(1, self.played + self.told)
        row = f"notes F1 {f1:.3f} ({self.right} of {self.played}, told {self.told})"
        if self.peer_told:
            row += f", peer {2.0 * self.peer_right / (self.played + self.peer_told):.3f}"
        row += f"; kind {self.kinds_right / max(1, self.kinds):.3f}"
        row += f"; figures clean {self.clean}/{self.figures}; steps as good {self.steps_as_good}/{self.steps}"
        return f"{row}; 60 s in {60.0 * self.draft_s / max(self.take_s, 1e-9):.1f} s"


def measure(set_name: str, seeds: Sequence[int], instrument: str, room: str) -> Tally:
    tally = Tally()
    for seed in seeds:
        take = make(set_name, seed, clean=True)
        heard = in_room(take.sound(instrument), room, take.seed, take.beat_s)
        began_s = time.process_time()
        lines = lines_in_audio([heard.samples], heard.rate_hz, take.lesson.copedent)
        drafted = draft(lines, take.lesson.copedent, take.lesson.copedent_name, take.name)
        tally.draft_s += time.process_time() - began_s
        tally.take_s += take.length_s
        _compare_notes(take, instrument, lines, tally)
        if drafted is not None:
            _grade(take, heard, drafted, tally)
            _compare_steps(take, drafted, tally)
        if PEER_PYTHON:
            picks, _ = played(take, instrument)
            told = _peer(heard)
            tally.peer_right += len(matched(picks, told, ONSET_S))
            tally.peer_told += len(told)
    return tally


def played(take: Take, instrument: str) -> tuple[Notes, Notes]:
    """What was struck, and where glides arrived, as it sounded."""
    off = take.tuning_cents / 100.0
    picks: Notes = []
    arrivals: Notes = []
    for performance in take.performances:
        for struck in performance.sounded:
            picks += [(at_s, struck.midi_at(at_s + 0.02) + off) for at_s in (struck.start_s, *struck.again_s)]
        for finding in truth.findings(performance):
            note = performance.notes[finding.note]
            if finding.checkpoint.kind != "arrive" or finding.heard_s is None or finding.heard_midi is None:
                continue
            if note is not None and render.level_db(note, bank(instrument), finding.heard_s + 0.1) > FAINTEST_DB:
                arrivals.append((finding.heard_s, finding.heard_midi + off))
    return sorted(picks), sorted(arrivals)


def matched(wanted: Notes, told: Notes, within_s: float) -> list[tuple[int, int]]:
    """Pairs of indices, by mir_eval."""
    if not wanted or not told:
        return []
    (at, hz), (told_at, told_hz) = _as_notes(wanted), _as_notes(told)
    return list(
        mir_eval.transcription.match_notes(
            at, hz, told_at, told_hz, onset_tolerance=within_s, pitch_tolerance=CENTS, offset_ratio=None
        )
    )


def _as_notes(notes: Notes) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    intervals = np.array([[at_s, at_s + 0.1] for at_s, _ in notes])
    return intervals, np.array([440.0 * 2.0 ** ((midi - 69.0) / 12.0) for _, midi in notes])


def _compare_notes(take: Take, instrument: str, lines: Sequence[Line], tally: Tally) -> None:
    picks, arrivals = played(take, instrument)
    told = [(line.start_s, line.rests[0].midi) for line in lines]
    glided = [(rest.arrived_s, rest.midi) for line in lines for rest in line.rests[1:]]
    tally.right += len(matched(picks, told, ONSET_S))
    tally.played += len(picks)
    tally.told += len(told)
    for wanted, heard in matched(picks + arrivals, told + glided, ARRIVAL_S):
        tally.kinds += 1
        tally.kinds_right += (wanted < len(picks)) == (heard < len(told))


def _grade(take: Take, heard: Heard, drafted: Draft, tally: Tally) -> None:
    lesson = drafted.lesson
    engine = AudioEngine(Brief(lesson, lesson.figures, load_tolerances("standard")), heard.rate_hz)
    engine.feed(heard.samples)
    tally.figures += len(lesson.figures)
    try:
        verdict = engine.finish(take.name)
    except Unusable as error:
        tally.faults.append(f"{take.name}: {error}")
        return
    for figure in verdict.figures:
        tally.clean += figure.found and figure.clean and figure.attempt == 1
        for checkpoint in figure.checkpoints:
            if checkpoint.faults:
                where = f"{take.name} figure {figure.figure.name} step {checkpoint.step} string {checkpoint.string}"
                tally.faults.append(f"{where} at {checkpoint.expected_s:.2f} s: {', '.join(checkpoint.faults)}")
        tally.faults += [
            f"{take.name} figure {figure.figure.name}: {extra.fault} at {extra.at_s:.2f} s" for extra in figure.extras
        ]
        if not figure.found:
            tally.faults.append(f"{take.name} figure {figure.figure.name}: not found")


def _compare_steps(take: Take, drafted: Draft, tally: Tally) -> None:
    """Each written step with a position beside the draft's at its time. As good are the written position, one that is
    reached from the step before with no more movement, and all of a figure that moves no more as a whole."""
    told = [
        (row.time_s, Position(row.strings, figure.steps[row.step - 1].stance.bar, _hold(figure.steps[row.step - 1])))
        for rows, figure in zip(drafted.figures, drafted.lesson.figures, strict=True)
        for row in rows
    ]
    for written in _positions(take):
        pairs: list[tuple[Position, Position] | None] = []
        for time_s, position in written:
            near = min(told, key=lambda one: abs(one[0] - time_s), default=None)
            is_there = near is not None and abs(near[0] - time_s) <= SAME_STEP_S
            pairs.append((position, near[1]) if near is not None and is_there else None)
        tally.steps += len(pairs)
        found = [pair for pair in pairs if pair is not None]
        whole = len(found) == len(pairs) and _moved([ours for _, ours in found]) <= _moved([his for his, _ in found])
        for before, pair in zip([None, *pairs], pairs, strict=False):
            if pair is not None:
                no_more = before is None or _moved((before[1], pair[1])) <= _moved((before[0], pair[0]))
                tally.steps_as_good += whole or no_more or _is_same(*pair)


def _moved(positions: Sequence[Position]) -> float:
    """In frets; rounded, so that equal is equal."""
    return round(sum(movement_frets(one, other) for one, other in pairwise(positions)), 6)


def _is_same(one: Position, other: Position) -> bool:
    return (one.bar, one.hold.down, set(one.strings)) == (other.bar, other.hold.down, set(other.strings))


def _hold(step: Step) -> Hold:
    return Hold(tuple(step.stance.down.items()))


def _positions(take: Take) -> Iterator[list[tuple[float, Position]]]:
    """For each figure played, when each written step that needs hands was complete, and where they were."""
    for performance in take.performances:
        found = []
        ringing: tuple[int, ...] = ()
        for step in performance.expectation.figure.steps:
            if step.pick:
                kept = ringing if step.keeps is None else tuple(s for s in ringing if s in step.keeps)
                ringing = tuple(dict.fromkeys((*kept, *step.pick)))
            elif step.block is None or step.block:
                ringing = () if step.block is None else tuple(s for s in ringing if s not in step.block)
                continue
            if ringing and (step.pick or step.is_move):
                found.append((performance.time_of(float(step.beat)), Position(ringing, step.stance.bar, _hold(step))))
        yield found


def _peer(heard: Heard) -> Notes:
    """What a general neural transcriber makes of it, its pitch being that of the note's beginning."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "take.wav"
        soundfile.write(file, heard.samples, heard.rate_hz)
        command = [str(PEER_PYTHON), str(Path(__file__).with_name("peer_transcriber.py")), str(file)]
        result = subprocess.run(command, check=True, capture_output=True)
    (notes,) = json.loads(result.stdout)
    return [(start_s, float(np.median(pitches[: max(1, len(pitches) // 4)]))) for start_s, _, pitches in notes]
