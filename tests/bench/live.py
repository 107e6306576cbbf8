"""How soon a figure that has ended is told while the take goes on, and what listening costs.

A take is played block by block to the session that `livecheck listen` runs, its files and its database included, in a
process that does nothing else: what the benchmark itself needs is made by another one, or lies on the disk. Time
is simulated: a block comes when it has been played, and waits while the one before it is being worked on, which takes
as long as it does on this machine, or as long as it would if nothing else ran there (`own_time`). MIDI goes to the
engine itself, which is asked at every message and, where none comes, every `LOOK_S`.

A remark on a figure that is still being played counts from when that came which made it certain, to its being told.

Latency is from when the last of a figure's checkpoints could be decided (250 ms after its arrival, or half its written
time if that is longer; for one that never came, when it is no longer searched) until the figure has been told.
"""

from __future__ import annotations

import os
import pickle
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager, redirect_stdout, suppress
from dataclasses import dataclass, field
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path
from typing import Generic, ParamSpec, TypeVar, cast
from weakref import finalize

import numpy as np

from livecheck.cli.live_audio import LiveAudio
from livecheck.cli.session import Session
from livecheck.cli.telling import tell_remark
from livecheck.engine import Brief, MidiEngine
from livecheck.judging.meanwhile.remark import Remark
from livecheck.judging.meanwhile.so_far import DECIDED_S
from livecheck.judging.verdict import FigureVerdict
from livecheck.keeping.keeper import Keeper
from livecheck.lesson.expectation import expect
from livecheck.reports.mistake import mistakes_of
from livecheck.sources.driver_message import Block, Opened
from livecheck.sources.library import load_input, load_tolerances
from livecheck.sources.live_input import LOOK_S, SOON_S, LiveInput
from tests.bench import render
from tests.bench.bank import RATE_HZ
from tests.bench.take import Take, make

BLOCK = 256
SAMPLE_BYTES = np.dtype(np.float32).itemsize
PAGE_BYTES = 4096
WARM_S = 120.0
"""Before that memory says nothing: the first figures fill what is reused later."""
AROUND_S = 60.0
"""Over so long it is looked at then, and so long before the take ends."""
LOOK_AGAIN_S = 2.0

Given = ParamSpec("Given")
Made = TypeVar("Made")
Said = TypeVar("Said")


@dataclass
class Run:
    """What became of takes that were played live."""

    played_s: float = 0.0
    busy_s: float = 0.0
    behind_s: float = 0.0
    """How long sound had to wait at most; the driver keeps it meanwhile."""
    grown_bytes: list[float] = field(default_factory=list)
    """Resident memory in the last minute of long takes, before they are judged as a whole, over that in their third:
    the least of each, as what is only needed for a moment is no growth."""
    latencies_ms: list[float] = field(default_factory=list)
    told: int = 0
    kept: int = 0
    """Of these the mistakes were the same at the end of the take."""
    found: int = 0
    """Figures at the end."""
    remarks_ms: list[float] = field(default_factory=list)
    remarks_kept: int = 0
    """Of the remarks, those at a step at which something was wrong at the end too."""
    own_time: bool = False

    def clock_s(self) -> float:
        return time.process_time() if self.own_time else time.perf_counter()

    def add(self, told: Iterable[tuple[float, FigureVerdict]], final: Iterable[FigureVerdict], brief: Brief) -> None:
        """Compare what was told, and when, with the verdicts at the end."""
        left = [figure for figure in final if figure.found]
        self.found += len(left)
        for at_s, figure in told:
            self.told += 1
            same = [one for one in left if one.figure.name == figure.figure.name and _begin_together(one, figure)]
            if same:
                self.latencies_ms.append(1000.0 * (at_s - _decidable_s(same[0], brief)))
                self.kept += _gist(same[0]) == _gist(figure)

    def add_remarks(self, said: Iterable[tuple[float, Remark]], final: Iterable[FigureVerdict]) -> None:
        left = [figure for figure in final if figure.found]
        for at_s, remark in said:
            self.remarks_ms.append(1000.0 * (at_s - remark.since_s))
            verdict = remark.verdict
            same = [one for one in left if one.figure.name == verdict.figure.name and _begin_together(one, verdict)]
            self.remarks_kept += bool(same) and _steps(verdict) <= _steps(same[0])

    def remarks(self, name: str) -> str:
        if not self.remarks_ms:
            return f"{name}: no remarks"
        middle, most = np.percentile(self.remarks_ms, [50, 95])
        kept = 100.0 * self.remarks_kept / len(self.remarks_ms)
        return (
            f"{name}: {len(self.remarks_ms)} remarks while a figure was played, {kept:.0f} % so at the end; "
            f"median {middle:.1f} ms, 95th {most:.1f} ms"
        )

    def row(self, name: str) -> list[str]:
        middle, most = np.percentile(self.latencies_ms, [50, 95]) if self.latencies_ms else (np.nan, np.nan)
        return [
            name,
            f"{self.played_s / 60.0:.1f} min",
            f"{self.told} of {self.found}",
            f"{100.0 * self.kept / max(self.told, 1):.0f} %",
            f"{middle:.0f} ms",
            f"{most:.0f} ms",
            f"{100.0 * self.busy_s / self.played_s:.1f} %",
            f"{1000.0 * self.behind_s:.0f} ms",
            f"{max(self.grown_bytes) / 2**20:+.1f} MiB" if self.grown_bytes else "",
        ]


HEAD = ["", "played", "told", "so at the end", "median", "95th", "of one core", "behind", "memory"]


def measure(
    set_names: Iterable[str], instrument: str, seeds: Iterable[int], minutes: float, own_time: bool = False
) -> str:
    """The table; each set and seed is played for so many minutes."""
    audio, midi = Run(own_time=own_time), Run(own_time=own_time)
    for set_name in set_names:
        for seed in seeds:
            take = make(set_name, seed, at_least_s=60.0 * minutes)
            with tempfile.TemporaryDirectory() as folder:
                sound = Path(folder) / "sound"
                _alone(render_sound, take, instrument, sound)
                audio = _alone(play_audio, take, sound, audio)
            midi = _alone(play_midi, take, midi)
    rows = [HEAD, audio.row("audio"), midi.row("MIDI")]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    table = "\n".join("  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows)
    return "\n".join([table, audio.remarks("audio"), midi.remarks("MIDI")])


def _brief(take: Take) -> Brief:
    return Brief(take.lesson, take.lesson.figures, load_tolerances("standard"), take.timing)


class Memory:
    """Looks at the resident memory every few seconds of a take."""

    def __init__(self) -> None:
        self._look_s = WARM_S
        self._seen: list[int] = []

    def look(self, now_s: float) -> None:
        if now_s >= self._look_s:
            self._look_s = now_s + LOOK_AGAIN_S
            self._seen.append(_resident_bytes())

    @property
    def grown_bytes(self) -> list[float]:
        """Of one take; nothing of one too short to tell."""
        few = round(AROUND_S / LOOK_AGAIN_S)
        return [float(min(self._seen[-few:]) - min(self._seen[:few]))] if len(self._seen) >= 2 * few else []


class _Heard(Generic[Said]):
    """What was told and when, on the disk."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - it lives as long as this does
        finalize(self, self._file.close)

    def add(self, at_s: float, said: Iterable[Said]) -> None:
        for one in said:
            pickle.dump((at_s, one), self._file)

    def __iter__(self) -> Iterator[tuple[float, Said]]:
        self._file.seek(0)
        with suppress(EOFError):
            while True:
                yield pickle.load(self._file)


class _Watched(LiveAudio):
    """Notes what it is asked for."""

    new: tuple[FigureVerdict, ...] = ()
    said: tuple[Remark, ...] = ()

    def certain(self) -> list[Remark]:
        found = list(super().certain())
        self.said += tuple(found)
        return found

    def ended(self) -> list[FigureVerdict]:
        found = list(super().ended())
        self.new += tuple(found)
        return found


class _Player:
    """Plays a take in simulated time, in the place of a device."""

    def __init__(self, sound: Path, live: _Watched, run: Run) -> None:
        self._sound = sound
        self._live = live
        self._run = run
        self.told: _Heard[FigureVerdict] = _Heard()
        self.said: _Heard[Remark] = _Heard()
        self.turn_s = LOOK_S

    def events(self) -> Iterator[Block]:
        free_s = came_s = 0.0
        memory = Memory()
        with self._sound.open("rb") as sound:
            while samples := sound.read(BLOCK * SAMPLE_BYTES):
                came_s += len(samples) / SAMPLE_BYTES / RATE_HZ
                memory.look(came_s)
                begun_s, own_s = self._run.clock_s(), time.process_time()
                yield Block(samples, 0)
                took_s = self._run.clock_s() - begun_s
                self._run.behind_s = max(self._run.behind_s, free_s - came_s)
                free_s = max(free_s, came_s) + took_s
                self._run.busy_s += time.process_time() - own_s
                self.told.add(free_s, self._live.new)
                self.said.add(free_s, self._live.said)
                self._live.new, self._live.said = (), ()
        self._run.grown_bytes += memory.grown_bytes
        self._run.played_s += came_s


def render_sound(take: Take, instrument: str, path: Path) -> None:
    take.sound(instrument).tofile(path)


def play_audio(take: Take, sound: Path, run: Run) -> Run:
    """`sound`: the take as float32 samples."""
    brief = _brief(take)
    with tempfile.TemporaryDirectory() as name, _nowhere():
        keeper = Keeper(Path(name), take.name, datetime.now().astimezone(), print)
        live = _Watched(brief, keeper, RATE_HZ, 1)
        player = _Player(sound, live, run)
        session = Session(live, Opened("bench", RATE_HZ, 1), keeper, None, take.lesson.copedent)
        try:
            verdict = session.play(cast("LiveInput", player))
        finally:
            keeper.close()
    run.add(player.told, verdict.figures, brief)
    run.add_remarks(player.said, verdict.figures)
    return run


def play_midi(take: Take, run: Run) -> Run:
    brief = _brief(take)
    engine = MidiEngine(brief, load_input("channel-per-string").for_strings(len(take.lesson.copedent.strings)))
    told: _Heard[FigureVerdict] = _Heard()
    said: _Heard[Remark] = _Heard()
    memory = Memory()
    free_s = now_s = last_s = 0.0
    for message in render.midi(take.performances, take.tuning_cents).tracks[0]:
        now_s += message.time / render.TICKS_PER_S
        memory.look(now_s)
        turn_s = min(last_s, now_s - 1e-9)
        while turn_s < now_s:
            turn_s = min(now_s, max(turn_s, free_s) + (SOON_S if engine.is_waiting else LOOK_S))
            begun_s, own_s = run.clock_s(), time.process_time()
            if turn_s == now_s:
                engine.feed(now_s, message)
            remarks = engine.certain(max(turn_s, free_s))
            with _nowhere():
                for remark in remarks:
                    tell_remark(remark.verdict, take.lesson.copedent)
            said.add(max(turn_s, free_s) + run.clock_s() - begun_s, remarks)
            found = engine.ended(max(turn_s, free_s))
            took_s = run.clock_s() - begun_s
            run.behind_s = max(run.behind_s, free_s - turn_s)
            free_s = max(free_s, turn_s) + took_s
            run.busy_s += time.process_time() - own_s
            told.add(free_s, found)
        last_s = now_s
    run.grown_bytes += memory.grown_bytes
    run.played_s += now_s
    final = engine.finish(take.name).figures
    run.add(told, final, brief)
    run.add_remarks(said, final)
    return run


def _alone(work: Callable[Given, Made], *args: Given.args, **kwargs: Given.kwargs) -> Made:
    """Done in a new process, so that neither it nor anything before it has left memory behind."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(work, *args, **kwargs).result()


@contextmanager
def _nowhere() -> Iterator[None]:
    """What is printed is lost."""
    with open(os.devnull, "w", encoding="utf-8") as nowhere, redirect_stdout(nowhere):
        yield


def _decidable_s(figure: FigureVerdict, brief: Brief) -> float:
    """When the last of a figure's checkpoints could be decided, by its verdict at the end."""
    assert figure.start_s is not None
    beat_s = 60.0 / (figure.tempo or brief.lesson.tempo)
    heard_s = {(c.step, c.string): c.heard_s for c in figure.checkpoints}
    times_s = []
    for note in expect(figure.figure, brief.lesson.copedent).notes:
        last = note.checkpoints[-1]
        came_s = heard_s[last.step, last.string]
        half_s = brief.tolerances.short_share * (note.end_beat - last.beat) * beat_s
        searched_s = figure.start_s + last.beat * beat_s
        times_s.append(searched_s if came_s is None else came_s + max(DECIDED_S, half_s))
    return max(times_s)


def _begin_together(one: FigureVerdict, other: FigureVerdict) -> bool:
    return abs((one.start_s or 0.0) - (other.start_s or 0.0)) < 60.0 / (one.tempo or 60.0)


def _gist(figure: FigureVerdict) -> list[tuple[str, tuple[int, ...], tuple[int, ...]]]:
    return sorted((str(m.fault), m.steps, m.strings) for m in mistakes_of(figure))


def _steps(figure: FigureVerdict) -> set[int]:
    return {step for mistake in mistakes_of(figure) for step in mistake.steps}


def _resident_bytes() -> int:
    """Linux only."""
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * PAGE_BYTES
