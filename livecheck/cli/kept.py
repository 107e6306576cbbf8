"""Verdicts on recorded takes go into the notebook that playing live fills, so that `livecheck history` sees them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livecheck.errors import Unusable

if TYPE_CHECKING:
    from livecheck.judging.verdict import TakeVerdict


class KeepFolder(argparse.Action):
    """`--keep [FOLDER]`: what stands behind it is a folder, unless it is the lesson or a take."""

    def __call__(self, *given: Any, **_: Any) -> None:
        """What argparse gives: the parser, the namespace, the value, the option as it was written."""
        from livecheck.keeping.folder import default_folder

        _, namespace, value, _ = given
        if value is not None and Path(value).is_file():
            namespace.paths = [*namespace.paths, value]
            value = None
        namespace.keep = str(default_folder()) if value is None else value


def keep(folder: Path, path: str, verdict: TakeVerdict) -> None:
    """Note the attempts of a take; what was noted of the same file before is replaced. Unusable if it cannot be."""
    import sqlite3

    from livecheck.cli.record import attempt_of
    from livecheck.grading.roster import taken_at
    from livecheck.keeping.folder import NOTEBOOK
    from livecheck.keeping.notebook import Notebook

    began = taken_at(path, Path(path).name)
    attempts = [
        attempt_of(figure, began, 0, provisional=False) for figure in verdict.figures if figure.start_s is not None
    ]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        notebook = Notebook(folder / NOTEBOOK)
        take = notebook.same_or_new(verdict.lesson, verdict.source, began, str(Path(path).absolute()))
        notebook.revise(take, attempts)
        notebook.close()
    except (OSError, sqlite3.Error) as error:
        said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise Unusable(f"{folder}: the verdict cannot be kept ({said}); wanted a folder for it") from None
