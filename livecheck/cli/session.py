"""One take, from the first sound that comes to the report: what is heard is kept, judged and told."""

from __future__ import annotations

import math
from collections.abc import Sequence

from livecheck.cli.live_audio import LiveAudio
from livecheck.cli.live_midi import LiveMidi
from livecheck.cli.output import say
from livecheck.cli.record import attempt_of
from livecheck.cli.rest import REST, Rest
from livecheck.cli.stop import Stop
from livecheck.cli.telling import Told, tell_figure, tell_gap, tell_remark, tell_revised
from livecheck.errors import NothingFound, Unusable
from livecheck.judging.verdict import FigureVerdict, TakeVerdict
from livecheck.keeping.attempt import Attempt
from livecheck.keeping.keeper import Keeper
from livecheck.lesson.copedent import Copedent
from livecheck.sources.audio_file import LONGEST_S
from livecheck.sources.driver_message import Block, Opened, Sent
from livecheck.sources.live_input import Back, LiveInput, Lost


class Session:
    """`verdict = Session(…).play(source)`."""

    def __init__(
        self,
        live: LiveAudio | LiveMidi,
        opened: Opened,
        keeper: Keeper,
        end_after_s: float | None,
        copedent: Copedent | None,
    ) -> None:
        """`copedent` is for the words in which figures are told as they end; None where none is to be told."""
        self._live = live
        self._opened = opened
        self._keeper = keeper
        self._end_after_s = end_after_s
        self._told_dead = False
        self._copedent = copedent
        self._rest = Rest()
        self._told: list[Told] = []
        self._remarked: list[Told] = []
        """What was said before a figure had ended: faults alone."""

    def play(self, source: LiveInput) -> TakeVerdict:
        """Listen until the player ends the take. NothingFound if no figure of the lesson was played; Unusable if it
        cannot be judged, which revises nothing, or can no longer be listened to: what has come by then is kept."""
        try:
            with Stop() as stop:
                self._listen(source, stop)
        finally:
            self._live.end()
        if self._live.time_s == 0.0:
            raise Unusable("nothing was heard; wanted a take")
        try:
            verdict = self._live.finish()
        except NothingFound:
            self._settle([])
            raise
        found = [figure for figure in verdict.figures if figure.found]
        self._settle(found)
        for figure in found:
            if self._gaps(figure):
                at_s = figure.start_s or 0.0
                say(f"figure {figure.figure.name} at {at_s:.1f} s had a gap in it; what is said of it may be wrong")
        if self._live.overflows > 1:
            times = "twice" if self._live.overflows == 2 else f"{self._live.overflows} times"
            say(f"sound was lost {times} in all")
        return verdict

    def _listen(self, source: LiveInput, stop: Stop) -> None:
        if self._opened.rate_hz is None:
            self._tell_listening()
        for event in source.events():
            if isinstance(event, Block | Sent):
                self._feed(event)
            elif isinstance(event, Lost):
                self._live.pause()
                say(f"{self._opened.label} has gone; waiting for it")
            elif isinstance(event, Back):
                say(f"{self._opened.label} is back; listening")
            self._tell_certain()
            self._note_ended()
            source.turn_s = self._live.turn_s
            if stop.asked or self._is_over():
                return

    def _feed(self, event: Block | Sent) -> None:
        if isinstance(event, Block) and self._live.time_s == 0.0:
            self._tell_listening()
        overflows = self._live.overflows
        self._live.feed(event)
        if overflows == 0 and self._live.overflows:
            say(f"sound was lost at {self._live.gaps_s[-1]:.1f} s; is the machine busy with something else?")
        if self._live.seems_dead and not self._told_dead:
            self._told_dead = True
            say(f"nothing comes from {self._opened.label}; is it plugged in and turned up?")

    def _tell_certain(self) -> None:
        """Tell what has just become certain of the figure that is being played; nothing when all is well."""
        if self._copedent is not None:
            for remark in self._live.certain():
                tell_remark(remark.verdict, self._copedent)
                self._remarked.append(Told.of(remark.verdict))

    def _note_ended(self) -> None:
        """Keep and tell what has just ended; at the end of the take all of it is revised."""
        ended = self._live.ended()
        if ended:
            self._keeper.keep([self._attempt(figure, provisional=True) for figure in ended])
        if self._copedent is not None:
            for figure in ended:
                if self._gaps(figure):
                    tell_gap(figure)
                else:
                    tell_figure(figure, self._copedent)
                    self._told.append(Told.of(figure))
        if ended and self._rest.is_due():
            say(REST)

    def _settle(self, found: Sequence[FigureVerdict]) -> None:
        """The whole take is known: what was kept and told of it is revised."""
        self._keeper.revise([self._attempt(figure, provisional=False) for figure in found])
        if self._copedent is not None:
            tell_revised(self._told, self._remarked, found, self._copedent)

    def _tell_listening(self) -> None:
        rate = "" if self._opened.rate_hz is None else f" at {self._opened.rate_hz} Hz"
        say(f"listening to {self._opened.label}{rate}; Ctrl-C ends the take")

    def _is_over(self) -> bool:
        if self._live.is_forgotten:
            say(f"nothing has come for {self._live.quiet_s / 60.0:.0f} minutes: the take ends here")
            return True
        return (
            self._end_after_s is not None and self._live.quiet_s >= self._end_after_s
        ) or self._live.time_s >= LONGEST_S

    def _attempt(self, figure: FigureVerdict, *, provisional: bool) -> Attempt:
        return attempt_of(figure, self._keeper.began, self._gaps(figure), provisional=provisional)

    def _gaps(self, figure: FigureVerdict) -> int:
        """How often sound was lost during a figure."""
        start_s, beat_s = figure.start_s or 0.0, 60.0 / (figure.tempo or math.inf)
        end_s = start_s + float(figure.figure.length) * beat_s
        return sum(start_s <= gap_s <= end_s for gap_s in self._live.gaps_s)
