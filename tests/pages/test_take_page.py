"""What a take's page holds, read by Python's own HTML parser."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from livecheck.pages.take import take_section, takes_page
from livecheck.reports.headline import headline
from livecheck.reports.mistake import mistakes_of
from tests.pages.example import demo_take
from tests.pages.test_markup import HOSTILE, Read, read


@pytest.fixture(scope="module")
def page() -> str:
    return takes_page("A slow waltz", [take_section(demo_take(), "t1", "take.ogg")])


@pytest.fixture(scope="module")
def parsed(page: str) -> Read:
    return read(page)


def test_every_mistake_is_told_in_words_and_marked_with_its_number(page: str, parsed: Read) -> None:
    take = demo_take()
    told = 0
    for figure in take.figures:
        for mistake in mistakes_of(figure.verdict):
            assert headline(mistake, figure.verdict.figure, take.lesson.copedent) in parsed.text
            told += 1
    assert told == 8
    assert "8 mistakes" in parsed.text
    assert len(re.findall(r'class="badge-number"', page)) >= 8


def test_every_figure_has_a_picture_two_sounds_and_a_table(parsed: Read) -> None:
    tags = [tag for tag, _ in parsed.tags]
    pictures = [attributes for tag, attributes in parsed.tags if tag == "svg" and attributes.get("role") == "img"]
    ids = {attributes["id"] for _, attributes in parsed.tags if "id" in attributes}
    assert len(pictures) == 6
    for picture in pictures:
        assert set((picture["aria-labelledby"] or "").split()) <= ids
    sounds = [attributes for tag, attributes in parsed.tags if tag == "audio"]
    assert len(sounds) == 12
    assert len({sound["aria-label"] for sound in sounds}) == 12
    assert tags.count("table") == 6


def test_ids_are_different_and_links_lead_somewhere(parsed: Read) -> None:
    ids = [attributes["id"] for _, attributes in parsed.tags if "id" in attributes]
    links = [attributes["href"] or "" for tag, attributes in parsed.tags if tag == "a"]
    assert len(set(ids)) == len(ids)
    assert links
    assert {link.removeprefix("#") for link in links} <= set(ids)


def test_nothing_is_fetched_and_only_its_own_script_may_run(page: str, parsed: Read) -> None:
    policies = [a["content"] or "" for t, a in parsed.tags if a.get("http-equiv") == "Content-Security-Policy"]
    (policy,) = policies
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    for kind, code in re.findall(r"<(style|script)>(.*?)</\1>", page, re.DOTALL):
        digest = base64.b64encode(hashlib.sha256(code.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    addresses = [a.get(key) or "" for _, a in parsed.tags for key in ("src", "href") if key in a]
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert not [key for _, a in parsed.tags for key in a if key.startswith("on") or key == "style"]
    assert "url(http" not in page


def test_the_sound_is_the_figures_part_of_the_take(page: str) -> None:
    """The first figure: as it was played, decoded by libsndfile, beside the take itself."""
    take = demo_take()
    data = base64.b64decode(re.findall(r'src="data:audio/mpeg;base64,([^"]*)"', page)[0])
    samples, rate_hz = soundfile.read(io.BytesIO(data), dtype="float32")
    start_s = (take.verdict.figures[0].start_s or 0.0) - 0.4
    assert take.samples is not None
    original = take.samples(start_s, start_s + 8.0)
    assert rate_hz == take.rate_hz
    lagged = [
        np.corrcoef(samples[lag : lag + len(original)], original[: len(samples) - lag])[0, 1]
        for lag in range(0, 2400, 8)
    ]
    assert max(lagged) > 0.95


def test_a_page_of_a_minute_is_below_two_megabytes(page: str) -> None:
    assert len(page.encode()) < 2_000_000


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_text(name: str) -> None:
    take = demo_take()
    figures = tuple(
        replace(one, verdict=replace(one.verdict, figure=replace(one.verdict.figure, name=name)))
        for one in take.figures[:1]
    )
    verdict = replace(take.verdict, lesson=name, take=name, figures=tuple(one.verdict for one in figures))
    hostile = replace(take, figures=figures, verdict=verdict, remarks=(name,))
    plain, told = (
        read(takes_page(title, [take_section(one, "t1", title)]))
        for title, one in (
            ("x", replace(hostile, verdict=replace(verdict, lesson="x"), remarks=("x",))),
            (name, hostile),
        )
    )
    assert [tag for tag, _ in told.tags] == [tag for tag, _ in plain.tags]
    assert " ".join(name.split()) in told.text


def test_a_note_of_another_string_is_drawn_where_it_was_not_asked(page: str) -> None:
    """Figure line, step 6: string 3 (B4) sounded instead of 4 (G4), and no strip is string 3's."""
    start = page.index('id="t1-5"')
    picture = page[start : page.index("</svg>", start)]
    assert re.findall(r'class="wrong-name"[^>]*>(.*?)</text>', picture) == ["B4"]
    strips = picture.split('<g><rect class="ground"')[1:]
    assert "string 4" in strips[0]
    assert 'class="heard"' in strips[0]
