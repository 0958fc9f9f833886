"""What many tests ask for is made once for all tests of one process: models of cases, searches, plans.

What was found is known by all that was asked, byte by byte, and where it is a choice it is checked again each
time it is given, since that is done by who asks. Tests of the engines themselves, and those marked `anew`,
make and search each time.
"""

from __future__ import annotations

import hashlib
import io
import pickle
import sys
import threading
import weakref
from collections.abc import Callable, Collection
from dataclasses import fields, is_dataclass, replace
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from deskmend import language
from deskmend.choice import engines
from deskmend.grants.people import plans as people_plans
from deskmend.intake.applicants import ApplicantRow
from deskmend.language import current_language, current_unit
from deskmend.planning import budgets, frontier, inputs, ready_case
from deskmend.planning import plan as planning_plan
from deskmend.planning.ready_case import NoPlan, ReadyCase
from deskmend.risk.scores.method import registered
from deskmend.risk.severity import curves_moved

MOST_KEPT = 1_000
MOST_LADDERS = 200
"""Plans of all budgets kept, each with its states."""
MOST_MODELS = 40
"""Models of one person kept, some three megabytes each."""
MOST_GROUPS = 24
"""Groups of people kept who were modelled together."""
HERE = Path(__file__).resolve().parent
UNTOLD = {"title": "", "notes": ""}
"""What nobody looks at who makes a model or searches."""
IN_THREADS = "deskmend.local_page"
"""There threads may be left behind at work, and a model serves one thread."""


class Memory:
    """What functions gave, by what they were asked with; `lasts` says whether it is looked up now."""

    def __init__(self, patch: pytest.MonkeyPatch) -> None:
        self.lasts = True
        self.patch = patch

    def keep(
        self,
        module: Any,
        name: str,
        asked: Callable[..., Any],
        most: int = MOST_KEPT,
        everywhere: bool = False,
        given_to: Callable[..., Any] = lambda known, *_, **__: known,
        around: Callable[[], Any] = lambda: _around(),
    ) -> None:
        """Let a function of a module be asked once for what `asked` gives of its arguments.

        It is asked each time where `asked` gives None. What was known is handed out by `given_to`, as long as
        what is `around` is the same. Modules that took the function over by name ask the memory too where it
        is to be so `everywhere`.
        """
        function = getattr(module, name)
        kept: dict[bytes, Any] = {}
        lock = threading.Lock()

        def given(*arguments: Any, **named: Any) -> Any:
            told = asked(*arguments, **named) if self.lasts else None
            if told is None:
                return function(*arguments, **named)
            key = _digest((around(), told))
            with lock:
                known = kept.get(key)
            if known is None:
                try:
                    known = function(*arguments, **named)
                except NoPlan as none:
                    known = none
            with lock:
                # last come, last let go
                kept.pop(key, None)
                kept[key] = known
                if len(kept) > most:
                    kept.pop(next(iter(kept)))
            if isinstance(known, NoPlan):
                raise known
            if isinstance(known, list | dict):
                known = known.copy()
            return given_to(known, *arguments, **named)

        self.patch.setattr(module, name, given)
        for user in list(sys.modules.values()) if everywhere else ():
            if _may_share(user):
                for taken in [one for one, value in vars(user).items() if value is function]:
                    self.patch.setattr(user, taken, given)


class _ByFields(pickle.Pickler):
    """Writes records by their fields alone: what they have worked out of themselves by now tells nothing."""

    def reducer_override(self, record: Any) -> Any:
        if is_dataclass(record) and not isinstance(record, type) and hasattr(record, "__dict__"):
            return type(record), tuple(getattr(record, one.name) for one in fields(record))
        return NotImplemented


def _digest(told: Any) -> bytes:
    """Digest of what is told, the same whether equal parts of it are one object or several."""
    stream = io.BytesIO()
    pickler = _ByFields(stream, protocol=5)
    pickler.fast = True
    pickler.dump(told)
    return hashlib.blake2b(stream.getbuffer()).digest()


def _may_share(module: Any) -> bool:
    name, file = getattr(module, "__name__", ""), getattr(module, "__file__", None) or ""
    ours = name.startswith("deskmend.") or Path(file).is_relative_to(HERE)
    return ours and not name.startswith(IN_THREADS)


def _around() -> Any:
    """What an answer hangs on beside the arguments; what was found carries sentences in a language."""
    curves, scores = repr(curves_moved()), [(one.name, _number(one)) for one in registered()]
    return current_language(), current_unit(), _number(language._translations), curves, scores


def remember(patch: pytest.MonkeyPatch) -> Memory:
    """Let searches be remembered until the patch is undone."""
    memory = Memory(patch)
    # a problem is whole numbers and names of no language
    for search in ("_best_part", "_along_the_hull"):
        memory.keep(engines, search, lambda *asked: asked, around=tuple)
    memory.keep(
        frontier,
        "frontier_of",
        lambda ready, *rest, **more: (_all(ready, UNTOLD), rest, more),
        most=MOST_LADDERS,
        everywhere=True,
    )
    memory.keep(
        budgets,
        "distinct_plans",
        lambda ready, rungs, minutes: (
            _told(ready),
            ready.problem(None, minutes),
            [(rung.cost, rung.strain, dict(rung.choice.options)) for rung in rungs],
        ),
        most=MOST_LADDERS,
    )
    memory.keep(
        planning_plan,
        "planned",
        _plan_asked,
        most=MOST_LADDERS,
    )
    memory.keep(
        inputs,
        "price_questions",
        lambda case, catalog: (repr(case.model_copy(update=UNTOLD)), _number(catalog)),
        everywhere=True,
    )
    memory.keep(ready_case, "prepare", _case_asked, most=MOST_MODELS, everywhere=True, given_to=_as_told)
    memory.keep(
        people_plans,
        "made_together",
        _people_asked,
        most=MOST_GROUPS,
        everywhere=True,
    )
    memory.keep(
        people_plans.PersonPlans,
        "offered_alone",
        _person_asked,
        given_to=lambda known, plans: replace(known, row=plans.row),
    )
    return memory


def _plan_asked(
    ready: ReadyCase,
    budget: int | None = None,
    minutes: int | None = None,
    *,
    every: budgets.EveryBudget | None = None,
    **more: Any,
) -> Any:
    """What a plan hangs on; whether others look at the same plans of all budgets changes nothing of it."""
    own = ready.case.means.minutes if minutes is None else minutes
    given = {name: value for name, value in sorted(more.items()) if value}
    return _all(ready), repr((budget, own if every is None else every.minutes, own, given))


def _people_asked(people: Collection[tuple[ApplicantRow, Any]], basis: people_plans.PlanBasis) -> Any:
    """What people are modelled of together, whichever files say it."""
    rows = [(replace(row, file="", line=0), had) for row, had in people]
    return repr((rows, replace(basis.prices, path=""), basis.use_discomfort)), _number(basis.catalog)


def _person_asked(plans: people_plans.PersonPlans) -> Any:
    """What the listed plans of a person are made of, whichever files say it."""
    basis = plans.basis
    row, prices = replace(plans.row, file="", line=0), replace(basis.prices, path="")
    told = repr((row, plans.had, prices, basis.use_discomfort, basis.kept, basis.every_gain))
    return told, _number(basis.catalog), plans.base, plans.fixed_strain, plans.strain_now


def _case_asked(case: Any, catalog: Any, *rest: Any, offered: Any = None, **more: Any) -> Any:
    """What a model of a case is made of; None where it chooses among other than what the catalog offers."""
    left = isinstance(offered, partial) and offered.func is people_plans.offers_left
    if len(rest) > 4 or not (offered is None or left):
        return None
    given = repr((offered.args, offered.keywords)) if left else ""
    return repr((case.model_copy(update=UNTOLD), rest, more)), _number(catalog), given


def _as_told(known: ReadyCase, case: Any, *_: Any, **__: Any) -> ReadyCase:
    """What was made ready, with the words and the file of the case asked about: faults tell lines of it."""
    words = {name: getattr(case, name) for name in UNTOLD}
    if known.case._origin is case._origin and all(
        getattr(known.case, name) == word for name, word in words.items()
    ):
        return known
    own = known.case.model_copy(update=words)
    own._origin = case._origin
    return replace(known, case=own)


_NUMBERS: dict[int, tuple[weakref.ref[Any], int]] = {}
_NEXT = count()


def _number(catalog: Any) -> int:
    """Number of a catalog while it lives: another one may lie in the same folder, or later at its place."""
    known = _NUMBERS.get(id(catalog))
    if known is None or known[0]() is not catalog:
        known = _NUMBERS[id(catalog)] = (weakref.ref(catalog), next(_NEXT))
    return known[1]


def _told(ready: ReadyCase) -> Any:
    """What noise hangs on beside the choice."""
    left = {"title": True, "person": {"warning_signs": True}}
    return ready.case.model_dump_json(exclude=left), _number(ready.catalog)


def _all(ready: ReadyCase, but: Collection[str] = ()) -> Any:
    return (
        ready.case.model_dump_json(exclude=set(but)),
        _number(ready.catalog),
        repr(ready.prices),
        repr(ready.state),
        ready.problem(None, None),
    )
