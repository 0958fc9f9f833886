"""A page worked through in Python: its examples run from top to bottom, what they show stands behind them.

``python -m tests.docs.worked_page`` writes it anew.
"""

from __future__ import annotations

import ast
import re
import shutil
import tempfile
from contextlib import redirect_stdout
from doctest import DocTestParser
from io import StringIO
from pathlib import Path
from typing import Any

from tests.cli.shown_output import ROOT, standing_in

PAGE = ROOT / "docs" / "frames.md"
_BLOCK = re.compile(r"(?<=^```pycon\n).*?(?=^```$)", re.MULTILINE | re.DOTALL)


def page_again() -> str:
    """The page with what its examples show now; they run in a folder of their own with the scenarios."""
    names: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder, standing_in(Path(folder)):
        shutil.copytree(ROOT / "scenarios", "scenarios")
        return _BLOCK.sub(lambda block: _shown(block[0], names), PAGE.read_text(encoding="utf-8"))


def _shown(block: str, names: dict[str, Any]) -> str:
    out = ""
    for example in DocTestParser().get_examples(block):
        first, *rest = example.source.splitlines()
        out += "\n".join([f">>> {first}", *(f"... {line}".rstrip() for line in rest)]) + "\n"
        told = StringIO()
        with redirect_stdout(told):
            for statement in ast.parse(example.source).body:
                interactive = ast.Interactive([statement])
                exec(compile(interactive, PAGE.name, "single"), names)
        out += "".join(f"{line.rstrip()}\n" for line in told.getvalue().rstrip("\n").splitlines())
    return out


if __name__ == "__main__":
    PAGE.write_text(page_again(), encoding="utf-8")
