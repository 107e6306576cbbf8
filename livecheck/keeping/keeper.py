"""Keeps one take while it is played, and never stands in its way.

What cannot be kept (a full disk, a folder that may not be written) is told once, and playing goes on.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from livecheck.errors import Unusable
from livecheck.keeping.aside import Aside
from livecheck.keeping.attempt import Attempt
from livecheck.keeping.flac_take import FlacTake
from livecheck.keeping.folder import NOTEBOOK, new_take
from livecheck.keeping.midi_take import MidiTake
from livecheck.keeping.notebook import Notebook

NOT_KEPT = "take"
"""What a take is called that is not kept."""


class Keeper:
    """`tell` is given one sentence, at most once."""

    def __init__(self, folder: Path, lesson: str, began: datetime, tell: Callable[[str], None]) -> None:
        self._folder = folder.absolute()
        self._lesson = lesson
        self._tell = tell
        self._told = False
        self._flac: FlacTake | None = None
        self._midi: MidiTake | None = None
        self._notebook: Notebook | None = None
        self._take = 0
        self.began = began
        self.path = NOT_KEPT
        """The take's path, once it is being kept."""

    def begin_audio(self, rate_hz: int) -> None:
        with self._safely():
            path = new_take(self._folder, self._lesson, self.began, ".flac")
            self._flac = FlacTake(path, rate_hz)
            self.path = str(path)
        self._open_notebook("audio")

    def begin_midi(self) -> None:
        with self._safely():
            path = new_take(self._folder, self._lesson, self.began, ".mid")
            self._midi = MidiTake(path)
            self.path = str(path)
        self._open_notebook("midi")

    def aside(self) -> Aside:
        """Where a recording of the take lies while it goes on."""
        return Aside(self._folder)

    def samples(self, samples: NDArray[np.float32]) -> None:
        """Add to a take of sound; the samples are `as_kept`."""
        flac, self._flac = self._flac, None  # given up unless this goes well
        if flac is not None:
            with self._safely():
                flac.write(samples)
                self._flac = flac

    def message(self, tick: int, message: bytes) -> None:
        """Add to a take of MIDI."""
        midi, self._midi = self._midi, None  # given up unless this goes well
        if midi is not None:
            with self._safely():
                midi.write(tick, message)
                self._midi = midi

    def end(self, tick: int = 0) -> None:
        """The take is over; `tick` is where a take of MIDI ends."""
        with self._safely():
            if self._flac is not None:
                self._flac.close()
            if self._midi is not None:
                self._midi.close(tick)

    def keep(self, attempts: Sequence[Attempt]) -> None:
        """Note attempts that have just ended; they and the take so far are on the disk when this returns."""
        with self._safely():
            for file in (self._flac, self._midi):
                if file is not None:
                    file.settle()
            if self._notebook is not None:
                self._notebook.keep(self._take, attempts)

    def revise(self, attempts: Sequence[Attempt]) -> None:
        """The take has been judged as a whole: these are its attempts."""
        with self._safely():
            if self._notebook is not None:
                self._notebook.revise(self._take, attempts)

    @property
    def is_whole(self) -> bool:
        """Whether all of the take has been kept so far."""
        return not self._told

    def close(self) -> None:
        if self._notebook is not None:
            self._notebook.close()

    def _open_notebook(self, source: str) -> None:
        with self._safely():
            self._folder.mkdir(parents=True, exist_ok=True)
            notebook = Notebook(self._folder / NOTEBOOK)
            self._take = notebook.begin(self._lesson, source, self.began, self.path)
            self._notebook = notebook

    @contextmanager
    def _safely(self) -> Iterator[None]:
        try:
            yield
        except (OSError, sqlite3.Error, Unusable) as error:
            if not self._told:
                self._told = True
                said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
                self._tell(f"{self._folder}: this take is not kept ({said}); playing goes on")
