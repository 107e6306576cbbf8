"""Chromium without a window, as Debian has it, told what to do by its driver."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

ARGUMENTS = ("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--mute-audio")
"""Root in a container has no sandbox; the tests' own pages are all that is opened."""
PATIENCE_S = 10.0


@contextmanager
def browser(width: int = 1100, height: int = 900) -> Iterator[webdriver.Chrome]:
    options = Options()
    options.binary_location = "/usr/bin/chromium"
    for argument in ARGUMENTS:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))
    try:
        size(driver, width, height)
        yield driver
    finally:
        driver.quit()


def size(driver: webdriver.Chrome, width: int, height: int) -> None:
    how = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", how)


def media(driver: webdriver.Chrome, scheme: str, kind: str = "screen") -> None:
    """Light or dark, screen or print."""
    how = {"media": kind, "features": [{"name": "prefers-color-scheme", "value": scheme}]}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", how)


def opened(driver: webdriver.Chrome, page: Path) -> None:
    driver.get(page.as_uri())


def complaints(driver: webdriver.Chrome) -> list[Any]:
    """What stands on the console since this was asked last."""
    return list(driver.get_log("browser"))  # type: ignore[no-untyped-call]


def until(true: Callable[[], Any]) -> Any:
    """What is true at last."""
    end_s = time.monotonic() + PATIENCE_S
    while True:
        got = true()
        if got or time.monotonic() > end_s:
            return got
        time.sleep(0.05)
