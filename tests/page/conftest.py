from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from .browser import Browser, open_browser

BROWSERS = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser without a window; the test is skipped where there is none."""
    binary = next((found for found in map(shutil.which, BROWSERS) if found), None)
    driver = shutil.which("chromedriver")
    if binary is None or driver is None:
        pytest.skip("no Chromium with its driver is installed (on Debian: chromium, chromium-driver)")
    folder = tmp_path_factory.mktemp("pages")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        opened = open_browser(Path(binary), Path(driver), Path(profile), folder)
        try:
            yield opened
        finally:
            opened.driver.quit()
