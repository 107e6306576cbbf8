"""What was planted: each checkpoint's right verdict, in groups; a group that the truth leaves open is not compared."""

from dataclasses import dataclass, field

GROUPS = {
    "note": frozenset({"missed", "wrong-note", "missed-move"}),
    "timing": frozenset({"early", "late"}),
    "intonation": frozenset({"flat", "sharp"}),
    "ends": frozenset({"cut-short", "rang-on"}),
    "extras": frozenset({"extra-pick", "extra-note"}),
}


@dataclass
class Checkpoint:
    step: int
    string: int
    kind: str
    at_s: float
    fault: str | None = None
    open_groups: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class Extra:
    fault: str
    at_s: float
    midi: float
    string: int


@dataclass
class Attempt:
    figure: str
    start_s: float
    end_s: float = 0.0
    checkpoints: list[Checkpoint] = field(default_factory=list)
    extras: list[Extra] = field(default_factory=list)
