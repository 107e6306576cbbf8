"""From a MIDI message that makes a mistake certain to the line on the terminal, in real time.

On the way are a JACK server, the driver process and `livecheck listen`.

    python -m tests.live.remark_delay --rounds 40

plays a figure so many times, each time with one mistake of another kind, and prints how long its remark took, and how
long after its start livecheck was listening.
"""

from __future__ import annotations

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.judging.midi_player import Take, figure_of, lesson_of
from tests.live.servers import PATIENCE_S, jack, until
from tests.live.virtual_port import NAME, VirtualPort

LESSON = lesson_of(
    figure_of(
        "a", 8, "beat = 1, fret = 3, pick = [5, 6]", "beat = 2, fret = 5, pick = [4]",
        "beat = 3, fret = 8, pick = [5, 8]", "beat = 4, fret = 8, pick = [4]", 'beat = 6, block = "all"',
    ),
    tempo=240,
)  # fmt: skip
WORDS = {
    "wrong note": "a, step 3, strings 5 and 8: bar at 7, not 8|a, step 3, string 5: bar at 7, not 8",
    "extra": "a, step 2: a note that is not in the figure",
    "missed string": "a, step 3, string 8: not heard",
    "late": "a, step 4, string 4: picked",
}
"""What is wrong, and what is said of it."""
LATE_S = 0.09
ROUND_BEATS = 10
SAID_S = 0.5
"""What has not been said so long after is not counted as said."""


@dataclass(frozen=True)
class Round:
    """One playing of the figure: what was wrong, and how long after the message that shows it that was said."""

    kind: str
    took_ms: float | None
    """None where it was not said."""


class _Screen:
    """A pseudo-terminal; every line with the moment at which it was whole."""

    def __init__(self) -> None:
        self._ours, self.theirs = os.openpty()
        self.lines: list[tuple[float, str]] = []
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def close(self) -> None:
        os.close(self.theirs)
        self._reader.join()
        os.close(self._ours)

    def _read(self) -> None:
        rest = ""
        while True:
            try:
                rest += os.read(self._ours, 4096).decode(errors="replace")
            except OSError:  # how Linux tells that nobody holds the other end
                return
            *whole, rest = rest.split("\n")
            self.lines += [(time.monotonic(), line.rstrip("\r")) for line in whole]


def _round(take: Take, begin_s: float, kind: str) -> tuple[float, int]:
    """Play the figure once; when, and on which string, that is struck which makes the mistake certain."""
    played = take.play("a", begin_s)
    if kind == "wrong note":
        for string in (5, 8):
            played[3, string].detune(-1.0)
        return played[3, 5].start_s, 5
    if kind == "extra":
        stray = take.strike(9, begin_s + 1.5 * take.lesson.beat_s, begin_s + 2.0 * take.lesson.beat_s, 61.0)
        return stray.start_s, 9
    if kind == "late":
        played[4, 4].strike_later(LATE_S)
    else:
        take.leave_out(played[3, 8])
    return played[4, 4].start_s, 4


def measure(folder: Path, rounds: int, timing: str) -> tuple[float, list[Round]]:
    """Play the kinds of mistakes in turn, so many in all, on the beats of one grid. How long it took until it was
    listened to, and what came of each."""
    (folder / "lesson.toml").write_text(LESSON, encoding="utf-8")
    take = Take(LESSON)
    kinds = [list(WORDS)[number % (4 if timing == "click" else 3)] for number in range(rounds)]
    begins_s = [0.25 + ROUND_BEATS * number * take.lesson.beat_s for number in range(rounds)]
    shown = [_round(take, begin_s, kind) for begin_s, kind in zip(begins_s, kinds, strict=True)]
    messages = take.messages()
    places = [
        next(
            place
            for place, (time_s, message) in enumerate(messages)
            if message.type == "note_on" and message.channel == string - 1 and abs(time_s - at_s) < 1e-6
        )
        for at_s, string in shown
    ]
    screen = _Screen()
    call = [sys.executable, "-m", "livecheck", "listen", "lesson.toml", "--port", "strings", "--timing", timing]
    with jack(folder) as server, VirtualPort(server.variables) as port:
        began_s = time.monotonic()
        listening = subprocess.Popen(
            call, cwd=folder, env={**server.variables, "TERM": "dumb"}, stdout=screen.theirs, stderr=screen.theirs
        )
        try:
            ready = f"listening to {NAME}"
            until(lambda: any(ready in line for _, line in screen.lines))
            ready_s = next(moment_s for moment_s, line in screen.lines if ready in line) - began_s
            moments_s = port.play(messages)
            time.sleep(SAID_S)
            listening.send_signal(signal.SIGINT)
            listening.wait(PATIENCE_S)
        finally:
            listening.kill()
            listening.wait()
            screen.close()
    return ready_s, [
        Round(kind, _took_ms(moments_s[place], WORDS[kind], screen.lines))
        for kind, place in zip(kinds, places, strict=True)
    ]


def _took_ms(sent_s: float, words: str, lines: list[tuple[float, str]]) -> float | None:
    said = (
        moment_s
        for moment_s, line in lines
        if 0.0 < moment_s - sent_s < SAID_S and any(one in line for one in words.split("|"))
    )
    moment_s = next(said, None)
    return None if moment_s is None else 1000.0 * (moment_s - sent_s)


def table(found: list[Round]) -> str:
    lines = []
    for kind in ("all", *dict.fromkeys(one.kind for one in found)):
        of_kind = [one.took_ms for one in found if kind in ("all", one.kind)]
        said = [took_ms for took_ms in of_kind if took_ms is not None]
        middle, most = np.percentile(said, [50, 95]) if said else (np.nan, np.nan)
        lines.append(f"{kind:14} {len(said)} of {len(of_kind)} said, median {middle:.1f} ms, 95th {most:.1f} ms")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.live.remark_delay")
    parser.add_argument("--rounds", type=int, default=30)
    parser.add_argument("--timing", choices=("free", "click"), default="free")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        ready_s, found = measure(Path(name), given.rounds, given.timing)
    print(f"listening {ready_s:.2f} s after its start")
    print(table(found))


if __name__ == "__main__":
    main()
