"""Output shown in README.md and docs: found, made again, and written anew when run as a program.

A block stands behind a remark such as ``<!-- output of `deskmend plan --help` -->``, perhaps with
``up to "Some heading"`` where only the beginning is shown.
"""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from deskmend.cli import deskmend

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(
    r'(?P<mark><!-- output of `deskmend (?P<arguments>[^`]*)`(?: up to "(?P<until>[^"]+)")? -->\n```text\n)'
    r"(?P<shown>.*?)(?P<end>```\n)",
    re.DOTALL,
)


@dataclass(frozen=True)
class Block:
    """One block of output."""

    file: str
    arguments: str
    until: str | None
    shown: str


def pages() -> list[Path]:
    """Every page that may show output."""
    return [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def blocks() -> Iterator[Block]:
    """Every block of every page."""
    for page in pages():
        for match in BLOCK.finditer(page.read_text(encoding="utf-8")):
            yield Block(page.name, match["arguments"], match["until"], match["shown"])


def made_again(arguments: str, until: str | None) -> str:
    """Output of the program, run from the project's folder."""
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        result = CliRunner().invoke(deskmend, shlex.split(arguments))
    finally:
        os.chdir(before)
    text = result.stdout
    if until is not None:
        text = text[: text.index(until)].rstrip("\n") + "\n"
    return text


def write_anew() -> None:
    """Put what the program says now into every page."""
    for page in pages():
        text = page.read_text(encoding="utf-8")
        new = BLOCK.sub(
            lambda match: match["mark"] + made_again(match["arguments"], match["until"]) + match["end"], text
        )
        if new != text:
            page.write_text(new, encoding="utf-8")


if __name__ == "__main__":
    write_anew()
