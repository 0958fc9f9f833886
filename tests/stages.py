"""Two stages of tests: what stands on every run the same, and what is exhaustive or drawn anew.

The first stage is what ``python -m pytest`` runs: few draws, from the same seeds on every run. The second,
``python -m pytest -m thorough``, runs what is marked `thorough`, and once more, in full, what is marked
`both` and every test that draws: from a fresh seed, which it tells; ``--draws SEED`` gives it back.
``--cases 200`` plans that many drawn cases whole, which takes half an hour.
"""

from __future__ import annotations

import inspect
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

SHARE = 10
"""Of so many examples the first stage tries one."""
CASES = 8
"""Drawn cases that the second stage plans whole unless ``--cases`` says how many: each takes seconds."""


@dataclass
class Stage:
    """The stage that runs, and what its draws begin from."""

    thorough: bool = False
    seed: int = 0
    cases: int = CASES


NOW = Stage()


def begin(thorough: bool, seed: int | None, cases: int) -> None:
    """Say which stage runs, before any test is read."""
    NOW.thorough, NOW.cases = thorough, cases
    NOW.seed = 0 if not thorough else random.SystemRandom().randrange(10**6) if seed is None else seed
    slow = [HealthCheck.too_slow]
    settings.register_profile(
        "first",
        max_examples=20,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=slow,
    )
    settings.register_profile("second", deadline=None, print_blob=True, suppress_health_check=slow)
    settings.load_profile("second" if thorough else "first")


def examples(full: int) -> settings:
    """So many examples in the second stage, a share of them in the first."""
    return settings(max_examples=full if NOW.thorough else max(1, full // SHARE))


def draws(few: int, full: int | None = None) -> range:
    """Seeds to draw from: in the first stage the same few, in the second as many as there should be.

    Where that is not said, as many whole cases as the second stage plans, and no less than the first.
    """
    count = max(few, NOW.cases) if full is None else full
    return range(NOW.seed, NOW.seed + count) if NOW.thorough else range(few)


def some(every: Sequence[Any], *first: Any) -> list[Any]:
    """Parameters, of which the first stage takes those that are named so."""
    return [
        one
        if getattr(one, "name", one) in first
        else pytest.param(one, marks=pytest.mark.thorough, id=getattr(one, "name", None))
        for one in every
    ]


def seeds(few: int, full: int | None = None) -> pytest.MarkDecorator:
    """Run a test for each of `draws`, which it takes as ``seed``."""
    return pytest.mark.parametrize(
        "seed", [pytest.param(seed, marks=pytest.mark.both) for seed in draws(few, full)]
    )


def each(names: str | tuple[str, ...], rows: Iterable[Any]) -> Callable[[Callable[..., None]], Any]:
    """Run a test for every row of a table in one go, and tell of all that fail.

    As ``pytest.mark.parametrize`` says them, where a row takes less time than an item of its own would.
    """
    one = isinstance(names, str)
    keys, table = (names,) if isinstance(names, str) else names, list(rows)

    def of_all(test: Callable[..., None]) -> Callable[..., None]:
        @wraps(test)
        def every(**given: Any) -> None:
            failed: list[Exception] = []
            for row in table:
                told = dict(zip(keys, (row,) if one else row, strict=True))
                try:
                    test(**given, **told)
                except Exception as error:
                    error.add_note(f"where {told}")
                    failed.append(error)
            if failed:
                raise ExceptionGroup(f"{len(failed)} of {len(table)} rows", failed)

        asked = inspect.signature(test)
        left = [value for name, value in asked.parameters.items() if name not in keys]
        every.__signature__ = asked.replace(parameters=left)  # type: ignore[attr-defined]
        return every

    return of_all
