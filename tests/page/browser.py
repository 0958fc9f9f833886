"""A headless Chromium that is watched: every request and every line on its console."""

from __future__ import annotations

import base64
import io
import json
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pypdf import PdfReader
from selenium.webdriver import Chrome
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

ARGUMENTS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
LONGEST_SCRIPT = 300
"""How long a script may take in the page [s]: longer than load can make it take."""
PHONE, DESK = (390, 844), (1280, 900)
"""Sizes of windows [px]."""
PAPERS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Sizes of paper [inch] (ISO 216; ANSI)."""


@dataclass
class Browser:
    """A browser and the folder that its pages lie in."""

    driver: Chrome
    folder: Path

    def show(self, html: str, size: tuple[int, int] = DESK) -> None:
        """Open a page in a window of a size, and forget what happened before."""
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": size[0] < 600},
        )
        path = self.folder / "page.html"
        path.write_text(html, encoding="utf-8")
        self.driver.get("about:blank")
        self.driver.get_log("browser")
        self.driver.get_log("performance")
        self.driver.get(path.as_uri())

    def run(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page and give what it returns."""
        return self.driver.execute_script(script, *arguments)

    def all(self, selector: str) -> list[WebElement]:
        """Elements that are shown."""
        return [one for one in self.driver.find_elements(By.CSS_SELECTOR, selector) if one.is_displayed()]

    def one(self, selector: str) -> WebElement:
        """The one element that is shown."""
        (found,) = self.all(selector)
        return found

    def console(self) -> list[str]:
        """Lines on the console since the page was opened."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> set[str]:
        """Addresses asked for since the page was opened."""
        messages = [json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance")]
        return {
            message["params"]["request"]["url"]
            for message in messages
            if message["method"] == "Network.requestWillBeSent"
        }

    def printed(self, paper: str) -> list[str]:
        """Text of each page, printed on a paper; letters drawn as one are told apart again."""
        wide, high = PAPERS[paper]
        made = self.driver.execute_cdp_cmd(
            "Page.printToPDF", {"paperWidth": wide, "paperHeight": high, "printBackground": False}
        )
        reader = PdfReader(io.BytesIO(base64.b64decode(made["data"])))
        return [unicodedata.normalize("NFKC", page.extract_text()) for page in reader.pages]


def open_browser(binary: Path, driver: Path, profile: Path, folder: Path) -> Browser:
    """Start a browser with a profile of its own."""
    options = Options()
    options.binary_location = str(binary)
    for argument in (*ARGUMENTS, f"--user-data-dir={profile}"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    chrome = Chrome(options=options, service=Service(str(driver)))
    chrome.set_script_timeout(LONGEST_SCRIPT)
    return Browser(chrome, folder)
