"""Doing a job: the take against its lesson, or against each that it may be of, of which the best one counts.

In: a job. Out: its result, as plain values that any process can be sent. Nothing is raised: what cannot be used, and
what goes wrong in livecheck itself, becomes an error that is told, and the other jobs go on.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livecheck.errors import Unusable
from livecheck.grading.job import Candidate, Job
from livecheck.grading.take import play
from livecheck.judging.verdict import ASTRAY, FigureVerdict, TakeVerdict

if TYPE_CHECKING:
    from livecheck.reports.played import PlayedTake

LEAST_SHARE = 0.5
"""A lesson of which less than this was played right is not the one that was played."""


@dataclass(frozen=True)
class Result:
    record: dict[str, Any]
    """The report, or the error, with what is known of the take."""
    section: str = ""
    """The take's section of a page."""


def done(job: Job, key: str, path: str | None = None) -> Result:
    """The result of a job; `path`: where the take lies here, if not where the job says."""
    head = {"key": key, "student": job.student, "taken": job.taken.isoformat()}
    try:
        candidate, played = _best(job, path or job.path)
        return Result(head | _record(candidate, played), _section(job, key, played) if job.with_page else "")
    except Unusable as error:
        return Result(
            head
            | {"take": job.name, "error": _without_path(str(error), path or job.path).removeprefix(f"{job.name}: ")}
        )
    except Exception as error:  # noqa: BLE001 -- of ten thousand takes one may find a fault in livecheck
        told = f"something went wrong in livecheck itself: {type(error).__name__} ({error})"
        return Result(head | {"take": job.name, "error": _without_path(told, path or job.path), "lasting": False})


def done_with(job: Job, key: str, data: bytes) -> Result:
    """The result of a job whose take is not a file here but comes along."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take"
        path.write_bytes(data)
        return done(job, key, str(path))


def failed(job: Job, key: str, why: str) -> Result:
    """In place of a result that never came."""
    head = {"key": key, "student": job.student, "taken": job.taken.isoformat()}
    return Result(head | {"take": job.name, "error": why, "lasting": False})


def _best(job: Job, path: str) -> tuple[Candidate, PlayedTake]:
    if len(job.lessons) == 1:
        return job.lessons[0], play(path, job.name, job.lessons[0].asked)
    found: list[tuple[float, Candidate, PlayedTake]] = []
    for candidate in job.lessons:
        try:
            played = play(path, job.name, candidate.asked)
        except Unusable as error:
            if "no figure of this lesson" not in str(error):
                raise
            continue
        found.append((_share_right(played.verdict), candidate, played))
    best = max(found, key=lambda one: one[0], default=None)
    if best is None or best[0] < LEAST_SHARE:
        raise Unusable(f"none of {len(job.lessons)} lessons was recognised in it; wanted a take of one of them")
    return best[1:]


def _share_right(verdict: TakeVerdict) -> float:
    """How much of all that a lesson asks was heard as it asks."""
    checkpoints = [checkpoint for figure in verdict.figures for checkpoint in figure.checkpoints]
    right = sum(checkpoint.judged and not ASTRAY & set(checkpoint.faults) for checkpoint in checkpoints)
    not_played = sum(_picks(figure) for figure in verdict.figures if not figure.found)
    return right / max(len(checkpoints) + not_played, 1)


def _picks(figure: FigureVerdict) -> int:
    return sum(len(step.pick) for step in figure.figure.steps)


def _record(candidate: Candidate, played: PlayedTake) -> dict[str, Any]:
    from livecheck.reports.advice import advice
    from livecheck.reports.document import document_of
    from livecheck.reports.headline import headline
    from livecheck.reports.mistake import mistakes_of

    document: dict[str, Any] = document_of(played.verdict)
    copedent = played.lesson.copedent
    every = [mistakes_of(figure) for figure in played.verdict.figures]
    for figure, told, mistakes in zip(played.verdict.figures, document["figures"], every, strict=True):
        told["mistakes"] = [headline(mistake, figure.figure, copedent) for mistake in mistakes]
    work_on = advice([mistake for several in every for mistake in several], copedent)
    return document | {"lesson_file": candidate.stem, "duration_s": round(played.duration_s, 2), "work_on": work_on}


def _section(job: Job, key: str, played: PlayedTake) -> str:
    from livecheck.pages.take import take_section

    return take_section(played, f"t{key[:12]}", job.name)


def _without_path(text: str, path: str) -> str:
    """What is told must not tell where the teacher's files lie."""
    return text.removeprefix(f"{path}: ").replace(path, Path(path).name)
