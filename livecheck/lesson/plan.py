"""What comes next in practice: which figures, at which tempo. A value that is told how each attempt went.

A figure is learnt at a tempo that goes up after clean attempts and down after repeated faulty ones; at the lesson's
tempo, so many clean attempts in a row pass it. After each new figure all so far are played in a row, at the lesson's
tempo to begin with; then the next one is learnt. Figures are numbers from 0, in the lesson's order.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

CLEAN_TO_PASS = 3
FAULTY_TO_SLOW = 2
FASTER, SLOWER = 1.06, 0.9
"""A clean attempt brings less than repeated faults take: nobody is chased."""
SLOWEST_SHARE = 0.5
"""Of the lesson's tempo."""


@dataclass(frozen=True)
class Plan:
    figures: int
    """How many there are, one at least."""
    goal_tempo: float
    """The lesson's, in beats a minute."""
    first_tempo: float
    """Of each new figure; at most the lesson's."""
    clean_to_pass: int = CLEAN_TO_PASS
    learning: int = 0
    """The newest figure."""
    in_review: bool = False
    """Whether all so far are played in a row."""
    clean: int = 0
    """Clean attempts in a row at the lesson's tempo."""
    faulty: int = 0
    """Faulty attempts in a row at this tempo."""
    tempo: float = 0.0
    done: bool = False

    @classmethod
    def begin(cls, figures: int, goal_tempo: float, first_tempo: float, clean_to_pass: int = CLEAN_TO_PASS) -> Plan:
        first_tempo = min(max(first_tempo, SLOWEST_SHARE * goal_tempo), goal_tempo)
        return cls(figures, goal_tempo, first_tempo, clean_to_pass, tempo=first_tempo)

    @property
    def next(self) -> tuple[int, ...]:
        """The figures of the next attempt, in order."""
        return tuple(range(self.learning + 1)) if self.in_review else (self.learning,)

    @property
    def clean_to_go(self) -> int:
        """Clean attempts at the lesson's tempo that are still to come before it is passed."""
        return (1 if self.in_review else self.clean_to_pass) - self.clean

    def after(self, clean: bool) -> Plan:
        """The plan after one more attempt."""
        if self.done:
            return self
        return self._after_clean() if clean else self._after_faulty()

    def _after_clean(self) -> Plan:
        if self.tempo < self.goal_tempo:
            return replace(self, tempo=min(self.tempo * FASTER, self.goal_tempo), clean=0, faulty=0)
        if self.clean_to_go > 1:
            return replace(self, clean=self.clean + 1, faulty=0)
        return self._passed()

    def _after_faulty(self) -> Plan:
        if self.faulty + 1 < FAULTY_TO_SLOW:
            return replace(self, clean=0, faulty=self.faulty + 1)
        slower = max(self.tempo * SLOWER, SLOWEST_SHARE * self.goal_tempo)
        return replace(self, clean=0, faulty=0, tempo=slower)

    def _passed(self) -> Plan:
        if self.learning > 0 and not self.in_review:
            return replace(self, in_review=True, clean=0, faulty=0, tempo=self.goal_tempo)
        if self.learning + 1 == self.figures:
            return replace(self, clean=0, faulty=0, done=True)
        return replace(self, learning=self.learning + 1, in_review=False, clean=0, faulty=0, tempo=self.first_tempo)
