"""Jobs on a real Dask cluster on this machine: a scheduler and two workers as processes of their own."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

from livecheck.errors import Unusable
from livecheck.grading.cluster import on_cluster
from livecheck.grading.work import done
from tests.grading.test_cores import job_on
from tests.pages.example import TAKE

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import distributed


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with distributed.LocalCluster(  # type: ignore[no-untyped-call] # it has no types
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as cluster:
        yield cluster.scheduler_address


@pytest.mark.filterwarnings("ignore")
def test_the_results_are_those_of_this_machine(address: str, tmp_path: Path) -> None:
    bad = tmp_path / "bad.wav"
    bad.write_text("no sound")
    tasks = [
        (job_on(Path(TAKE), "a"), "0"),
        (job_on(bad), "1"),
        (job_on(Path(TAKE), "b"), "2"),
        (job_on(tmp_path / "none"), "3"),
    ]
    records = {one.record["key"]: one.record for one in on_cluster(tasks, address)}
    assert records["0"] == done(*tasks[0]).record
    assert records["2"]["figures"] == records["0"]["figures"]
    assert records["1"]["error"].startswith("is not audio that can be read")
    assert records["3"]["error"].startswith("cannot be read")


@pytest.mark.filterwarnings("ignore")
def test_an_address_where_nobody_answers_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("livecheck.grading.cluster.TIMEOUT_S", 1)
    with pytest.raises(Unusable, match=r"tcp://127.0.0.1:9: no Dask scheduler answers there"):
        list(on_cluster([], "tcp://127.0.0.1:9"))
