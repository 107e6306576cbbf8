"""Scores as lines of text."""

from tests.holdout.scoring import Score
from tests.holdout.truth import GROUPS

HEAD = f"{'':16}" + "".join(f"{group:>22}" for group in GROUPS) + "   alarms/100   lost  invented"


def line(name: str, score: Score) -> str:
    cells = "".join(
        f"{score.f1(group):9.3f} {score.right[group]:4}-{score.gone[group]}+{score.new[group]}".ljust(22)
        for group in GROUPS
    )
    return f"{name:16}{cells}{100 * score.alarms / max(score.clean, 1):10.2f} {score.lost:6} {score.invented:9}"
