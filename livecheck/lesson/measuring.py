"""Measuring an instrument: which strings to strike in which order, and the copedent that comes of it.

In: the copedent that the instrument is meant to have, then the pitches of held notes, one after the other. Out: what to
strike next, the copedent as the instrument is really tuned, and how far off it is. Pitches are MIDI numbers, A4 is
440 Hz.

The strings come open first; then each pedal and lever on the strings that it pulls; then, with each one that raises
more than it lowers, a string that it leaves alone: how far that falls is the cabinet drop.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from livecheck.lesson.copedent import Copedent

NEAR_SEMITONES = 0.7
"""What is farther from what is asked is another string, or another pedal."""
NEAR_SHARE = 0.6
"""Of what a change does: closer to where the string would stay, it is not down."""


@dataclass(frozen=True)
class Strike:
    """One string, struck open or with a pedal, a lever or a pair of them down."""

    string: int
    down: tuple[str, ...] = ()
    pulled: bool = True
    """Whether what is down pulls it; if not, it is struck to hear how far it falls."""


@dataclass(frozen=True)
class Off:
    """How far a strike is from what the copedent says."""

    strike: Strike
    midi: float
    """As the copedent has it."""
    cents: float
    """Positive is sharp."""


def strikes_of(copedent: Copedent) -> tuple[Strike, ...]:
    """All strikes that an instrument takes, in order."""
    strikes = [Strike(string + 1) for string in range(len(copedent.strings))]
    for name, pulls in copedent.changes.items():
        strikes += [Strike(string, (name,)) for string in sorted(pulls) if pulls[string]]
        alone = _alone(copedent, name)
        if sum(pulls.values()) > 0.0 and alone is not None:
            strikes.append(Strike(alone, (name,), pulled=False))
    for pair, pulls in copedent.pairs.items():
        strikes += [Strike(string, tuple(sorted(pair))) for string in sorted(pulls)]
    return tuple(strikes)


def _alone(copedent: Copedent, name: str) -> int | None:
    """A string that a change does not pull: of those that the fewest pull, the lowest."""
    others = [s for s in range(1, len(copedent.strings) + 1) if not copedent.changes[name].get(s)]
    counts = {s: sum(bool(pulls.get(s)) for pulls in copedent.changes.values()) for s in others}
    return min(others, key=lambda s: (counts[s], copedent.open_midi(s)), default=None)


@dataclass(frozen=True)
class Measuring:
    """How far it has come. `Measuring.of(copedent)` is the beginning."""

    copedent: Copedent
    waiting: tuple[Strike, ...]
    heard: Mapping[Strike, float] = field(default_factory=dict)
    left: frozenset[Strike] = frozenset()
    """Those that were passed over; they come once more at the end."""

    @classmethod
    def of(cls, copedent: Copedent) -> Measuring:
        return cls(copedent, strikes_of(copedent))

    @property
    def next(self) -> Strike | None:
        return self.waiting[0] if self.waiting else None

    def asked_midi(self, strike: Strike) -> float:
        """Where a strike should be: as the copedent has it, from the open string as it is where that is known."""
        opened = self.heard.get(Strike(strike.string), self.copedent.open_midi(strike.string))
        return opened + self._pull(strike)

    def hear(self, midi: float) -> Measuring:
        """After a held note. What fits the next strike is taken for it; what fits only the one after that passes over
        the next; anything else changes nothing."""
        for skipped, strike in enumerate(self.waiting[:2]):
            if self._fits(strike, midi):
                passed = self.waiting[:skipped]
                again = tuple(one for one in passed if one not in self.left)
                return replace(
                    self,
                    waiting=self.waiting[skipped + 1 :] + again,
                    heard={**self.heard, strike: midi},
                    left=self.left | set(passed),
                )
        return self

    @property
    def missing(self) -> tuple[Strike, ...]:
        """What was asked and not heard, in the order of the first asking."""
        return tuple(strike for strike in strikes_of(self.copedent) if strike not in self.heard)

    @property
    def has_all_open(self) -> bool:
        return all(strike.down for strike in self.missing)

    def measured(self, day: date) -> Copedent:
        """The copedent as the instrument is tuned; every open string was heard. What else was not is as it was."""
        changes = {name: self._pulls((name,), pulls) for name, pulls in self.copedent.changes.items()}
        pairs = {pair: self._pulls(tuple(sorted(pair)), pulls) for pair, pulls in self.copedent.pairs.items()}
        return Copedent(
            self.copedent.name,
            tuple(self.heard[Strike(string + 1)] for string in range(len(self.copedent.strings))),
            changes,
            pairs,
            {strike.down[0]: -self._moved(strike) for strike in self.heard if not strike.pulled},
            day,
        )

    @property
    def offs(self) -> tuple[Off, ...]:
        """How far each strike is off the copedent, the worst first; what is struck for the drop is not among them."""
        found = []
        for strike, midi in self.heard.items():
            meant = self.copedent.open_midi(strike.string) + self._pull(strike)
            if strike.pulled:
                found.append(Off(strike, meant, 100.0 * (midi - meant)))
        return tuple(sorted(found, key=lambda off: -abs(off.cents)))

    def _pull(self, strike: Strike) -> float:
        return self.copedent.shift(strike.string, dict.fromkeys(strike.down, 1.0))

    def _fits(self, strike: Strike, midi: float) -> bool:
        pull = abs(self._pull(strike))
        near = min(NEAR_SEMITONES, NEAR_SHARE * pull) if pull else NEAR_SEMITONES
        return abs(midi - self.asked_midi(strike)) <= near

    def _pulls(self, down: tuple[str, ...], meant: Mapping[int, float]) -> dict[int, float]:
        return {
            string: self._moved(strike) if (strike := Strike(string, down)) in self.heard else semitones
            for string, semitones in meant.items()
        }

    def _moved(self, strike: Strike) -> float:
        """Semitones from the open string as it was heard."""
        return self.heard[strike] - self.heard[Strike(strike.string)]
