"""Jobs on a Dask cluster that is there already, by the address of its scheduler.

The takes go along with the jobs, so the machines need no folder in common; livecheck has to be installed on them. So
many jobs are under way as the cluster has threads for, and as many again: an archive is never in memory as a whole.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from queue import Queue
from typing import Any

from livecheck.errors import Unusable
from livecheck.grading.cores import Task
from livecheck.grading.job import Job
from livecheck.grading.work import Result, done_with, failed

TIMEOUT_S = 15
AHEAD = 2
_one_at_a_time = threading.Lock()
"""Reading audio redirects the process's error output for moments; threads of one process would do so to each other."""


def on_cluster(tasks: Sequence[Task], address: str) -> Iterator[Result]:
    """The results, in the order in which they come. Unusable if the cluster cannot be reached."""
    distributed = _distributed()
    try:
        client = distributed.Client(address, timeout=TIMEOUT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise Unusable(
            f"{address}: no Dask scheduler answers there ({error}); wanted its address, tcp://HOST:8786"
        ) from None
    with client:
        left = list(reversed(tasks))
        coming: Queue[Any] = Queue()
        doing: dict[str, Task] = {}
        while left or doing:
            while left and len(doing) < AHEAD * max(sum(client.nthreads().values()), 1):
                job, key = left.pop()
                try:
                    data = Path(job.path).read_bytes()
                except OSError as error:
                    yield failed(job, key, f"cannot be read: {error.strerror}")
                    continue
                future = client.submit(_do, job, key, data, key=f"take-{key}", pure=False, retries=1)
                doing[future.key] = job, key
                future.add_done_callback(coming.put)
            if doing:
                future = coming.get()
                job, key = doing.pop(future.key)
                yield _result(future, job, key)


def _result(future: Any, job: Job, key: str) -> Result:
    error = future.exception()
    if error is None:
        result: Result = future.result()
        return result
    return failed(job, key, f"the cluster could not grade it: {type(error).__name__}")


def _do(job: Job, key: str, data: bytes) -> Result:
    """On a worker."""
    with _one_at_a_time:
        return done_with(job, key, data)


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise Unusable("a cluster needs the extra cluster; wanted pip install 'livecheck[cluster]'") from None
    return distributed
