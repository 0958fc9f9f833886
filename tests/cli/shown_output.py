"""Output shown in README.md and docs: found, made again, and written anew when run as a program.

A block stands behind a remark such as ``<!-- output of `deskmend plan --help` -->``, or behind
``<!-- file `shared/people.csv` -->`` where it shows what a command of the page wrote.
``from "Some heading"`` and ``up to "Some heading"`` shorten it. A page of first steps is run through from
top to bottom in a folder of its own that holds a copy of the scenarios, so that what one command writes is
there for the next.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from deskmend.cli import deskmend

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(
    r"(?P<mark><!-- (?:output of `deskmend (?P<arguments>[^`]*)`|file `(?P<written>[^`]+)`)"
    r'(?: from "(?P<start>[^"]+)")?(?: up to "(?P<until>[^"]+)")? -->\n```text\n)'
    r"(?P<shown>.*?)(?P<end>```\n)",
    re.DOTALL,
)


@dataclass(frozen=True)
class Block:
    """One block of output, or of a file that a command of the page wrote."""

    file: str
    arguments: str | None
    written: str | None
    start: str | None
    until: str | None
    shown: str

    def shortened(self, text: str) -> str:
        """Return the part of a text that the block shows."""
        if self.start is not None:
            text = text[text.index(self.start) :]
        if self.until is not None:
            text = text[: text.index(self.until)].rstrip("\n") + "\n"
        return text if text.endswith("\n") else text + "\n"


def pages() -> list[Path]:
    """Every page that may show output."""
    return [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def walked_through(page: Path) -> bool:
    """Tell whether the commands of a page follow on from each other."""
    return page.name.startswith("first_steps_")


def block_of(page: Path, match: re.Match[str]) -> Block:
    """Return what a remark asks for."""
    names = ("arguments", "written", "start", "until", "shown")
    return Block(page.name, *(match[name] for name in names))


def blocks_of(page: Path) -> list[Block]:
    """Every block of a page, from the top."""
    return [block_of(page, match) for match in BLOCK.finditer(page.read_text(encoding="utf-8"))]


def blocks() -> Iterator[Block]:
    """Every block of every page whose blocks stand alone."""
    for page in pages():
        if not walked_through(page):
            yield from blocks_of(page)


@contextmanager
def standing_in(folder: Path) -> Iterator[None]:
    """Run what follows from a folder."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def said(arguments: str) -> str:
    """Say what the program says in this folder; where it only finds faults, those."""
    result = CliRunner().invoke(deskmend, shlex.split(arguments))
    return result.stdout or result.stderr


def made_again(block: Block) -> str:
    """Output of the program, run from the project's folder."""
    assert block.arguments is not None, "only a page of first steps shows files"
    with standing_in(ROOT):
        return block.shortened(said(block.arguments))


def page_again(page: Path) -> list[str]:
    """Every block of a page of first steps, its commands run one after the other; each runs once."""
    answers: dict[str, str] = {}
    shown = []
    with tempfile.TemporaryDirectory() as folder, standing_in(Path(folder)):
        shutil.copytree(ROOT / "scenarios", "scenarios")
        for block in blocks_of(page):
            if block.arguments is None:
                assert block.written is not None
                text = Path(block.written).read_text(encoding="utf-8-sig")
            else:
                if block.arguments not in answers:
                    answers[block.arguments] = said(block.arguments)
                text = answers[block.arguments]
            shown.append(block.shortened(text))
    return shown


def write_anew() -> None:
    """Put what the program says now into every page."""
    for page in pages():
        text = page.read_text(encoding="utf-8")
        found = blocks_of(page)
        again = iter(page_again(page) if walked_through(page) else [made_again(block) for block in found])
        new = BLOCK.sub(lambda match, again=again: match["mark"] + next(again) + match["end"], text)
        if new != text:
            page.write_text(new, encoding="utf-8")


if __name__ == "__main__":
    write_anew()
