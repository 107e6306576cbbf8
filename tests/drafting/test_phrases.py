"""Where a take breathes."""

from __future__ import annotations

from livecheck.drafting.happening import happenings
from livecheck.drafting.line import Line, Rest
from livecheck.drafting.phrases import LONGEST_S, phrases


def runs(*picks: tuple[float, float]) -> list[list[float]]:
    """When the picks of each run are, given when each string is picked and silenced."""
    lines = [Line(start_s, end_s, (Rest(60.0 + number, start_s),)) for number, (start_s, end_s) in enumerate(picks)]
    return [[one.time_s for one in run if one.picked] for run in phrases(happenings(lines), lines)]


def test_a_breath_parts_two_runs() -> None:
    assert runs((1.0, 1.5), (1.5, 2.0), (3.0, 3.5), (3.5, 4.0)) == [[1.0, 1.5], [3.0, 3.5]]


def test_what_is_played_alone_goes_with_the_nearer_run() -> None:
    assert runs((1.0, 1.5), (1.5, 2.0), (2.5, 3.0), (4.0, 4.5), (4.5, 5.0)) == [[1.0, 1.5, 2.5], [4.0, 4.5]]
    assert runs((1.0, 1.5), (1.5, 2.0), (3.0, 3.5), (4.0, 4.5), (4.5, 5.0)) == [[1.0, 1.5], [3.0, 4.0, 4.5]]


def test_what_is_played_alone_far_away_stays_alone() -> None:
    later_s = 1.5 + LONGEST_S
    assert runs((1.0, 1.5), (1.5, 2.0), (later_s, later_s + 1.0)) == [[1.0, 1.5], [later_s]]


def test_one_pick_is_a_run_where_nothing_else_is() -> None:
    assert runs((1.0, 2.0)) == [[1.0]]
