"""`livecheck listen` killed at random moments (SIGKILL): is every attempt that had ended kept, and the database sound?

    python -m tests.live.killed --times 100

plays a figure over and over to it, through PulseAudio as sound and through JACK as MIDI in turn, all into one folder.
An attempt has ended when its verdict is on the screen; after each kill SQLite's own `PRAGMA integrity_check` is asked,
and the take is read.
"""

from __future__ import annotations

import argparse
import io
import random
import sqlite3
import subprocess
import tempfile
import time
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

import mido
import numpy as np
import soundfile
from rich.console import Console

from livecheck.errors import Unusable
from livecheck.reports.large import Large
from livecheck.sources.audio_file import open_audio
from livecheck.sources.midi_file import read_midi
from tests.cli.call import write_lesson
from tests.live.commanding import Commanding
from tests.live.listening import midi_take, write_take
from tests.live.servers import SINK, jack, pulse
from tests.live.virtual_port import VirtualPort

FIGURES = 8
ROUND_S = 3.3
"""From one playing of figure 2 to the next."""
LATEST_S = 12.0
"""After playing has begun: three or four attempts have ended by then."""
BARELY_BEGUN = ("is silent", "lasts 0", "no sound in it", "has no note in it", "is empty")
"""What is said of a take that holds nothing yet."""
LISTEN = ("listen", "lesson.toml", "--figure", "2")


@dataclass(frozen=True)
class Kill:
    after_s: float
    ended: int
    """Attempts whose verdict had been told."""
    kept: int
    """Those that are in the database."""
    sound: bool
    """Whether database and take can be read."""


def kill_often(folder: Path, times: int, seed: int = 0) -> list[Kill]:
    write_lesson(folder)
    samples, rate_hz = soundfile.read(folder / write_take(folder), dtype="float32")
    pause = np.zeros((max(0, round(ROUND_S * rate_hz) - len(samples)), 2), dtype=np.float32)
    soundfile.write(folder / "long.wav", np.concatenate([samples, pause] * FIGURES), rate_hz)
    moments = random.Random(seed)
    with pulse(folder) as sound, jack(folder) as midi:
        environment = {**sound.variables, **midi.variables}
        return [_kill(folder, environment, moments.uniform(0.0, LATEST_S), n % 2 == 0) for n in range(times)]


def _kill(folder: Path, environment: dict[str, str], after_s: float, by_sound: bool) -> Kill:
    before = _kept(folder)
    told = _by_sound(folder, environment, after_s) if by_sound else _by_midi(folder, environment, after_s)
    return Kill(after_s, told.count(_large("2: clean")), _kept(folder) - before, _is_sound(folder))


def _large(text: str) -> str:
    drawn = io.StringIO()
    Console(file=drawn, width=80).print(Large(text))
    return drawn.getvalue().rstrip("\n")


def _by_sound(folder: Path, environment: dict[str, str], after_s: float) -> str:
    """What was told until it was killed."""
    with Commanding(folder, environment, *LISTEN, "--device", "default") as command:
        command.until_seen("listening to ")
        player = subprocess.Popen(["paplay", f"--device={SINK}", "long.wav"], cwd=folder, env=environment)
        time.sleep(after_s)
    player.kill()
    player.wait()
    return command.seen


def _by_midi(folder: Path, environment: dict[str, str], after_s: float) -> str:
    once = midi_take(folder)
    messages = [(n * ROUND_S + time_s, message) for n in range(FIGURES) for time_s, message in once]
    with VirtualPort(environment) as port:
        with Commanding(folder, environment, *LISTEN, "--port", "strings") as command:
            command.until_seen("listening to ")
            player = Thread(target=_play, args=[port, messages])
            player.start()
            time.sleep(after_s)
        port.pull_out()
        player.join()
    return command.seen


def _play(port: VirtualPort, messages: list[tuple[float, mido.Message]]) -> None:
    with suppress(AssertionError, OSError):  # it is pulled out in the middle
        port.play(messages)


def _kept(folder: Path) -> int:
    """Attempts in the database."""
    path = folder / "data" / "livecheck" / "attempts.sqlite"
    if not path.exists():
        return 0
    with closing(sqlite3.connect(path)) as database:
        (kept,) = database.execute("SELECT COUNT(*) FROM attempt").fetchone()
    return int(kept)


def _is_sound(folder: Path) -> bool:
    """Whether the database is, by SQLite's own check, and the newest take can be read or had not begun."""
    with closing(sqlite3.connect(folder / "data" / "livecheck" / "attempts.sqlite")) as database:
        answer = database.execute("PRAGMA integrity_check").fetchall()
        (path,) = database.execute("SELECT path FROM take ORDER BY id DESC LIMIT 1").fetchone()
    try:
        _ = read_midi(path) if path.endswith(".mid") else open_audio(path)
    except Unusable as error:
        return answer == [("ok",)] and any(words in str(error) for words in BARELY_BEGUN)
    return answer == [("ok",)]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.live.killed")
    parser.add_argument("--times", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        kills = kill_often(Path(name), given.times, given.seed)
    ended, lost = sum(kill.ended for kill in kills), sum(max(0, kill.ended - kill.kept) for kill in kills)
    unsound = sum(not kill.sound for kill in kills)
    print(
        f"{len(kills)} kills, {ended} attempts had ended: {lost} lost; database or take unsound after {unsound} kills"
    )


if __name__ == "__main__":
    main()
