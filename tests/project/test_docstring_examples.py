"""Examples in docstrings run, and say what the program says."""

from __future__ import annotations

import doctest
import importlib

import pytest

from .source_tree import module_files

WITH_EXAMPLES = [name for name, path in module_files().items() if ">>> " in path.read_text(encoding="utf-8")]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_in_docstrings_run(name: str) -> None:
    tried = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert tried.attempted > 0
    assert tried.failed == 0


def test_there_are_examples() -> None:
    assert WITH_EXAMPLES
