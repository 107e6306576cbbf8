"""Pages in real Chromium: what they show, that they play, that nothing complains."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from livecheck.pages.beside import beside_page
from livecheck.pages.take import take_section, takes_page
from tests.pages.browser import browser, complaints, media, opened, size, until
from tests.pages.example import demo_take
from tests.pages.test_markup import HOSTILE

LUMINANCE = """
const shade = c => { const [r, g, b] = c.match(/[\\d.]+/g).map(v => { v /= 255;
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const ground = shade(getComputedStyle(document.documentElement).backgroundColor);
return [...document.querySelectorAll(arguments[0])].map(e => {
  const style = getComputedStyle(e); const own = shade(e instanceof SVGElement ? style.fill : style.color);
  return (Math.max(own, ground) + 0.05) / (Math.min(own, ground) + 0.05); });
"""
"""Contrast ratios as WCAG 2.2 defines them."""


@pytest.fixture(scope="module")
def driver() -> Iterator[webdriver.Chrome]:
    with browser() as driver:
        yield driver


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "take.html"
    path.write_text(takes_page("A slow waltz", [take_section(demo_take(), "t1", "take.ogg")]), encoding="utf-8")
    return path


def test_it_shows_figures_words_and_pictures(driver: webdriver.Chrome, page: Path) -> None:
    opened(driver, page)
    shown = driver.find_element(By.TAG_NAME, "body").text
    for words in (
        "8 mistakes",
        "Work on",
        "Figure rise",
        "step 2, strings 5 and 6: slide arrived",
        "string 8: cut short",
    ):
        assert words in shown
    pictures = driver.find_elements(By.CSS_SELECTOR, "svg[role=img]")
    assert len(pictures) == 6
    assert all(picture.size["width"] > 300 and picture.size["height"] > 60 for picture in pictures)
    assert len(driver.find_elements(By.CSS_SELECTOR, "path.heard")) > 10
    assert complaints(driver) == []


def test_the_sound_plays_and_the_line_moves_with_it(driver: webdriver.Chrome, page: Path) -> None:
    opened(driver, page)
    first, other = driver.find_elements(By.TAG_NAME, "audio")[:2]
    _press_space(driver, first)
    assert until(lambda: driver.execute_script("return arguments[0].currentTime", first) > 0.3)
    line = driver.find_element(By.CSS_SELECTOR, "section.figure .now")
    assert line.get_attribute("visibility") == "visible"
    before = float(line.get_attribute("x1") or 0.0)
    assert until(lambda: float(line.get_attribute("x1") or 0.0) > before)
    _press_space(driver, other)
    assert until(lambda: driver.execute_script("return arguments[0].paused", first))
    assert until(lambda: driver.execute_script("return arguments[0].currentTime", other) > 0.1)
    assert complaints(driver) == []


def _press_space(driver: webdriver.Chrome, audio: WebElement) -> None:
    """Play or pause as from the keyboard."""
    driver.execute_script("arguments[0].focus()", audio)
    webdriver.ActionChains(driver).send_keys(Keys.SPACE).perform()


def test_every_sound_can_be_decoded_and_lasts_as_long_as_its_figure(driver: webdriver.Chrome, page: Path) -> None:
    opened(driver, page)
    script = "return [...document.querySelectorAll('audio')].map(a => a.readyState ? a.duration : 0)"
    assert until(lambda: all(driver.execute_script(script)))
    for played, example in zip(*[iter(driver.execute_script(script))] * 2, strict=True):
        assert 5.0 < example <= played < 15.0


def test_a_click_on_the_picture_goes_there(driver: webdriver.Chrome, page: Path) -> None:
    opened(driver, page)
    picture = driver.find_element(By.CSS_SELECTOR, "svg[role=img]")
    audio = driver.find_element(By.TAG_NAME, "audio")
    driver.execute_script("arguments[0].scrollIntoView()", picture)
    webdriver.ActionChains(driver).move_to_element(picture).click().perform()
    left, scale = (float(picture.get_attribute(f"data-{name}") or 0.0) for name in ("left", "scale"))
    wanted_s = (picture.size["width"] / 2 - left) / scale
    assert until(lambda: abs(driver.execute_script("return arguments[0].currentTime", audio) - wanted_s) < 0.1)


def test_all_that_can_be_used_is_reached_by_the_keyboard(driver: webdriver.Chrome, page: Path) -> None:
    opened(driver, page)
    reached: set[str] = set()
    for _ in range(90):
        webdriver.ActionChains(driver).send_keys(Keys.TAB).perform()
        reached.add(driver.execute_script("return document.activeElement.tagName.toLowerCase()"))
    assert {"a", "audio", "summary", "div"} <= reached
    opened(driver, page)
    summary = driver.find_elements(By.TAG_NAME, "summary")[-1]
    driver.execute_script("arguments[0].focus()", summary)
    webdriver.ActionChains(driver).send_keys(Keys.ENTER).perform()
    assert driver.find_elements(By.TAG_NAME, "table")[-1].is_displayed()


def test_a_screen_reader_is_told_names(driver: webdriver.Chrome, page: Path) -> None:
    """Chromium's own accessibility tree: every picture, sound and region has a name."""
    opened(driver, page)
    driver.execute_cdp_cmd("Accessibility.enable", {})
    nodes = driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    names: dict[str, list[Any]] = {}
    for node in nodes:
        names.setdefault(node.get("role", {}).get("value", ""), []).append(node.get("name", {}).get("value", ""))
    pictures = [name for role in ("image", "img", "SvgRoot") for name in names.get(role, [])]
    assert len([name for name in pictures if "pitch asked and pitch heard" in name]) == 6
    assert len([name for name in names.get("Audio", []) if "as it was played" in name]) == 6
    assert all(names["region"])
    assert "A slow waltz" in names["heading"]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out_from_their_ground(driver: webdriver.Chrome, page: Path, scheme: str) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text; 1.4.11: 3 to 1 for what a picture is read by."""
    opened(driver, page)
    media(driver, scheme)
    text = driver.execute_script(LUMINANCE, "p, li, a, h1, h2, h3, summary, .detail, svg .axis, svg .name, svg .pitch")
    assert min(text) >= 4.5
    assert min(driver.execute_script(LUMINANCE, ".sign-heard, .badge")) >= 3.0
    media(driver, "light")


def test_a_phone_scrolls_only_up_and_down(driver: webdriver.Chrome, page: Path) -> None:
    size(driver, 390, 844)
    opened(driver, page)
    assert driver.execute_script("return document.documentElement.scrollWidth") <= 390
    size(driver, 1100, 900)


def test_on_paper_no_control_is_left_and_no_picture_is_cut(driver: webdriver.Chrome, page: Path) -> None:
    opened(driver, page)
    media(driver, "dark", "print")
    size(driver, 720, 1000)
    assert not any(audio.is_displayed() for audio in driver.find_elements(By.TAG_NAME, "audio"))
    widest = driver.execute_script(
        "return Math.max(...[...document.querySelectorAll('svg[role=img]')].map(e => e.getBoundingClientRect().right))"
    )
    assert widest <= 720
    assert driver.execute_script("return getComputedStyle(document.documentElement).backgroundColor") == (
        "rgb(255, 255, 255)"
    )
    media(driver, "light")
    size(driver, 1100, 900)


def test_hostile_names_do_nothing(driver: webdriver.Chrome, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    sections = [take_section(demo_take(), f"t{at}", name) for at, name in enumerate(HOSTILE[:2], start=1)]
    path.write_text(takes_page(HOSTILE[0], sections, HOSTILE[1]), encoding="utf-8")
    opened(driver, path)
    assert driver.title == HOSTILE[0]
    assert driver.find_elements(By.TAG_NAME, "img") == []
    assert complaints(driver) == []


def test_a_script_that_is_not_the_pages_own_does_not_run(driver: webdriver.Chrome, page: Path, tmp_path: Path) -> None:
    """Should markup ever get in, the policy stops it."""
    path = tmp_path / "page.html"
    foreign = "<script>window.ran = 1</script><b onclick='window.ran = 1' id=foreign>x</b>"
    path.write_text(page.read_text(encoding="utf-8").replace("<main>", f"<main>{foreign}", 1), encoding="utf-8")
    opened(driver, path)
    driver.execute_script("document.getElementById('foreign').click()")
    assert driver.execute_script("return window.ran") is None
    assert any("Content Security Policy" in one["message"] for one in complaints(driver))


def test_two_takes_stand_beside_each_other_and_on_a_phone_below(driver: webdriver.Chrome, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text(beside_page("A slow waltz", (demo_take(), demo_take()), ("before", "after")), encoding="utf-8")
    opened(driver, path)
    first, second = driver.find_elements(By.CSS_SELECTOR, ".pair")[0].find_elements(By.XPATH, "./div")
    assert first.location["y"] == second.location["y"]
    assert first.location["x"] < second.location["x"]
    size(driver, 390, 844)
    assert first.location["y"] < second.location["y"]
    size(driver, 1100, 900)
    assert complaints(driver) == []
