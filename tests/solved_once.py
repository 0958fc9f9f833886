"""The same search is made once for all tests of one process: many look at the same few scenarios.

What was found is known by all that was asked, byte by byte, and where it is a choice it is checked again each
time it is given, since that is done by who asks. Tests of the engines themselves, and those marked `anew`,
search each time.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable
from typing import Any

import pytest

from deskmend.choice import engines
from deskmend.language import current_language, current_unit
from deskmend.planning import budgets, prepared
from deskmend.planning import plan as planning_plan
from deskmend.planning.prepared import NoPlan, Prepared

MOST_KEPT = 2_000


class Memory:
    """What functions gave, by what they were asked with; `lasts` says whether it is looked up now."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.lasts = True
        self.patch = patch
        self._known: dict[bytes, Any] = {}

    def keep(self, module: Any, name: str, asked: Callable[..., Any]) -> None:
        """Let a function of a module be asked once for what `asked` gives of its arguments."""
        function = getattr(module, name)

        def given(*arguments: Any, **named: Any) -> Any:
            if not self.lasts:
                return function(*arguments, **named)
            # what was found carries sentences in the language of whoever asked first
            told = current_language(), current_unit(), asked(*arguments, **named)
            whole = pickle.dumps((name, told), protocol=5)
            key = hashlib.blake2b(whole).digest()
            if key not in self._known:
                if len(self._known) >= MOST_KEPT:
                    self._known.clear()
                try:
                    self._known[key] = function(*arguments, **named)
                except NoPlan as none:
                    self._known[key] = none
            known = self._known[key]
            if isinstance(known, NoPlan):
                raise known
            return list(known) if isinstance(known, list) else known

        self.patch.setattr(module, name, given)


def remember(patch: pytest.MonkeyPatch) -> Memory:
    """Let searches be remembered until the patch is undone."""
    memory = Memory(patch)
    memory.keep(engines, "_best_part", lambda *asked: asked)
    memory.keep(engines, "_along_the_hull", lambda *asked: asked)
    memory.keep(
        budgets,
        "climbed",
        lambda ready, rungs, minutes: (
            _told(ready),
            ready.problem(None, minutes),
            [(rung.cost, rung.strain, dict(rung.choice.options)) for rung in rungs],
        ),
    )
    memory.keep(planning_plan, "planned", lambda ready, *rest, **more: (_all(ready), repr((rest, more))))
    memory.keep(
        prepared, "prepare", lambda case, catalog, *rest, **more: repr((case, catalog.folder, rest, more))
    )
    return memory


def _told(ready: Prepared) -> Any:
    """What noise hangs on beside the choice."""
    left = {"title": True, "person": {"warning_signs": True}}
    return ready.case.model_dump_json(exclude=left), str(ready.catalog.folder)


def _all(ready: Prepared) -> Any:
    return (
        ready.case.model_dump_json(),
        str(ready.catalog.folder),
        repr(ready.prices),
        ready.problem(None, None),
    )
