"""`livecheck grade … --out FOLDER`: a class at once.

A take that cannot be used never stops the others; it is told at the end. A run that was stopped goes on where it was.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livecheck.cli.output import one_line, put, put_json, show
from livecheck.cli.status import CLEAN, FAULTY, UNUSABLE
from livecheck.cli.tally import Tally
from livecheck.cli.terms import terms_of
from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.grading.cores import Task
    from livecheck.grading.job import Candidate
    from livecheck.grading.results_folder import ResultsFolder
    from livecheck.grading.work import Result
    from livecheck.keeping.results import TakeRecord

MOST_TOLD = 20
"""Takes that could not be graded are told by name; of more only how many: they are all in the overview."""


def run_class(args: argparse.Namespace) -> int:
    """Grade a class; the exit status."""
    for option, value in (("--page", args.page), ("--jams", args.jams), ("--midi", args.midi), ("--keep", args.keep)):
        if value is not None:
            raise Unusable(f"{option} and --out do not go together; wanted one of them")
    if args.beside:
        raise Unusable("--beside and --out do not go together; wanted one of them")
    from livecheck.grading.results_folder import OVERVIEW, ResultsFolder
    from livecheck.grading.roster import found_in, job_of
    from livecheck.grading.school import grade_all, publish

    lessons, paths = _lessons(args)
    jobs = [job_of(found, lessons, with_page=not args.no_pages) for found in found_in(paths)]
    folder = ResultsFolder(Path(args.out), overwrite=args.overwrite)
    try:
        with Tally() as tally:
            keys = grade_all(jobs, folder, lambda tasks: _do(args, tasks), tally)
        records = publish(keys, folder, with_pages=not args.no_pages)
    finally:
        folder.close()
    if args.json:
        put_json(_documents(folder))
    else:
        _tell(records, Path(args.out) / OVERVIEW)
    return max(UNUSABLE if record.error else CLEAN if record.clean else FAULTY for record in records)


def _lessons(args: argparse.Namespace) -> tuple[list[Candidate], list[str]]:
    """The lessons that takes may be of, and where the takes are."""
    from livecheck.cli.grade import longest_s
    from livecheck.grading.job import Candidate
    from livecheck.grading.take import Asked

    if args.lessons is None:
        if len(args.paths) < 2:
            raise Unusable("a lesson or the takes are missing; wanted livecheck grade LESSON TAKES --out FOLDER")
        files, paths = [args.paths[0]], args.paths[1:]
    else:
        if not args.paths:
            raise Unusable("the takes are missing; wanted livecheck grade --lessons FOLDER TAKES --out FOLDER")
        files, paths = _toml_files(args.lessons), args.paths
    lessons = []
    for file in files:
        terms = terms_of(args, file)
        lessons.append(Candidate(Path(file).stem, Asked(terms.brief, terms.midi_input, args.channel, longest_s(args))))
    return lessons, paths


def _toml_files(folder: str) -> list[str]:
    """The lessons in a folder: files that have figures, as copedents may lie beside them."""
    try:
        files = sorted(path for path in Path(folder).iterdir() if path.suffix == ".toml" and path.is_file())
        lessons = [str(path) for path in files if "[[figure]]" in path.read_text(encoding="utf-8", errors="replace")]
    except OSError as error:
        raise Unusable(f"--lessons: {folder} cannot be read ({error.strerror}); wanted a folder of lessons") from None
    if not lessons:
        raise Unusable(f"--lessons: {folder} has no lesson in it; wanted .toml files with figures")
    return lessons


def _do(args: argparse.Namespace, tasks: Sequence[Task]) -> Iterator[Result]:
    from livecheck.grading.cores import on_cores
    from livecheck.grading.process import cores

    if args.cluster is not None:
        from livecheck.grading.cluster import on_cluster

        return on_cluster(tasks, args.cluster)
    return on_cores(tasks, min(args.jobs or cores(), max(len(tasks), 1)))


def _documents(folder: ResultsFolder) -> str:
    """The results as a list; they are lines of JSON already."""
    from livecheck.keeping.results import RESULTS

    lines = (folder.path / RESULTS).read_text(encoding="utf-8").splitlines()
    return f"[{','.join(lines)}]\n"


def _tell(records: Sequence[TakeRecord], overview: Path) -> None:
    from livecheck.reports.hanging import Hanging
    from livecheck.reports.wording import counted, plain

    failed = [record for record in records if record.error]
    clean = sum(record.clean for record in records)
    students = counted(len({record.student for record in records}), "student")
    counts = [(clean, "clean"), (len(records) - clean - len(failed), "not clean"), (len(failed), "not graded")]
    told = ", ".join(f"{count} {what}" for count, what in counts if count)
    show(Hanging(f"{counted(len(records), 'take')} of {students}: {told}", style="bold"))
    for record in failed[:MOST_TOLD]:
        show(Hanging(f"not graded: {plain(record.take)}: {plain(record.error)}", "  "))
    if len(failed) > MOST_TOLD:
        put(f"  and {len(failed) - MOST_TOLD} more\n")
    put(f"The overview: {one_line(str(overview))}\n")
