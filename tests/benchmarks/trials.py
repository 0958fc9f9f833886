"""Loaded by pytest as a plugin: all tests are collected once, then chosen ones run as often as is asked.

Each `Trial` runs in a child of its own, forked from what is loaded, up to the first test that fails. A fault
in functions is put in place there without loading anything anew: every function of the module that is alive,
however it is wrapped, is given its wrong code, and what functions remember is forgotten.
"""

from __future__ import annotations

import functools
import gc
import importlib
import inspect
import os
import resource
import signal
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, Pipe, wait
from types import CodeType, FunctionType
from typing import NoReturn

import pytest

Verdict = tuple[str, str]
"""What became of a fault, and by what."""
FORGETFUL = ("deskmend", "tests")
"""Packages whose functions forget what they remember."""
MOST_MEMORY = 12 << 30
"""A fault may ask for any number of bytes; more than these it does not get."""


@dataclass(frozen=True)
class Trial:
    """What a child runs."""

    places: Mapping[str, int | None]
    """Tests in the order of their places, before them those not known here; None is left out."""
    folders: tuple[str, ...]
    """Where tests may stand."""
    seconds: float
    hang: float
    """Seconds that one test may take."""
    module: str = ""
    """Module that the fault stands in; empty where nothing is put in place."""
    wrong: str = ""
    """Its text with the fault."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--trials", type=int, required=True, help="descriptor to be asked through")


class _Unread:
    """Files that could not be collected."""

    names: list[str]

    def __init__(self) -> None:
        self.names = []

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.names.append(report.nodeid)


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(_Unread(), "unread")


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool:
    """Say which files could not be collected, then try whatever is asked."""
    os.set_inheritable(session.config.option.trials, False)
    asked = Connection(session.config.option.trials)
    # whoever asked ends this by no longer waiting, so that the child of a trial ends too
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    asked.send(session.config.pluginmanager.get_plugin("unread").names)
    with suppress(EOFError):
        while True:
            asked.send(_tried(session, asked.recv(), asked))
    return True


def _tried(session: pytest.Session, trial: Trial, asked: Connection) -> Verdict:
    """Verdict of a child; it ends with whoever asked."""
    told, tells = Pipe(duplex=False)
    child = os.fork()
    if child == 0:
        try:
            os.setpgid(0, 0)
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
            _run(session, trial, tells)
        finally:
            os._exit(1)
    with suppress(PermissionError, ProcessLookupError):
        os.setpgid(child, child)
    tells.close()
    try:
        return _heard(trial, told, asked)
    finally:
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        told.close()


def _heard(trial: Trial, told: Connection, asked: Connection) -> Verdict:
    deadline = time.monotonic() + trial.seconds
    test = ""
    while True:
        left = deadline - time.monotonic()
        ready = wait([told, asked], max(0.0, min(trial.hang, left)))
        if asked in ready:
            raise EOFError("nobody waits for the verdict")
        if not ready:
            return ("hangs", test) if trial.hang < left else ("undecided", "time ran out")
        try:
            verdict, test = told.recv()
        except EOFError:
            if not test:
                raise RuntimeError("a child ended before its first test") from None
            return "caught", test
        if verdict != "begun":
            return verdict, test


class _Teller:
    """Tells which test has begun, and of the first that fails."""

    def __init__(self, tells: Connection) -> None:
        self.tells = tells

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.tells.send(("begun", nodeid))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.end("caught", report.nodeid)

    def end(self, verdict: str, by: str = "") -> NoReturn:
        self.tells.send((verdict, by))
        os._exit(0)


def _run(session: pytest.Session, trial: Trial, tells: Connection) -> None:
    # what is frozen after collection is not among what can be found
    gc.unfreeze()
    teller = _Teller(tells)
    session.config.pluginmanager.register(teller)
    if trial.module and not put_in_place(trial.module, trial.wrong):
        teller.end("outside", "what is wrong is not in functions alone")
    _forget()
    places = trial.places
    named = [item for item in session.items if item.nodeid.startswith(trial.folders)]
    chosen = [item for item in named if places.get(item.nodeid, -1) is not None]
    row = sorted(chosen, key=lambda item: places.get(item.nodeid, -1))
    for item, following in zip(row, [*row[1:], None], strict=True):
        session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
    teller.end("survived")


def put_in_place(module: str, wrong: str) -> bool:
    """Give functions of a module the code of another text; False where that is not all that would differ."""
    file = inspect.getsourcefile(importlib.import_module(module)) or ""
    with open(file, encoding="utf-8") as stream:
        right = stream.read()
    pairs = _differing(*(compile(text, file, "exec", dont_inherit=True) for text in (right, wrong)))
    if pairs is None:
        return False
    # what was made of a function by a decorator, a property or a table holds the same function
    alive = [one for one in gc.get_objects() if type(one) is FunctionType and one.__code__ in pairs]
    alive = [one for one in alive if one.__code__.co_filename == file]
    if any(len(one.__code__.co_freevars) != len(pairs[one.__code__].co_freevars) for one in alive):
        return False
    for one in alive:
        one.__code__ = pairs[one.__code__]
    return bool(alive)


def _differing(right: CodeType, wrong: CodeType) -> dict[CodeType, CodeType] | None:
    """Code of functions that differs, each with what should stand there; None where other code does too."""
    if right == wrong:
        return {}
    pairs = {right: wrong} if right.co_flags & inspect.CO_OPTIMIZED else {}
    if _own(right) != _own(wrong):
        return pairs or None
    for one, other in zip(_inner(right), _inner(wrong), strict=True):
        more = _differing(one, other)
        if more is None:
            return None
        pairs |= more
    return pairs


def _inner(code: CodeType) -> list[CodeType]:
    return [one for one in code.co_consts if isinstance(one, CodeType)]


def _own(code: CodeType) -> tuple[object, ...]:
    """What code does itself, without the code inside it and without places in the text."""
    constants = [None if isinstance(one, CodeType) else repr(one) for one in code.co_consts]
    names = (code.co_names, code.co_varnames, code.co_freevars, code.co_cellvars)
    return code.co_code, code.co_flags, constants, names, [one.co_name for one in _inner(code)]


def _forget() -> None:
    for one in gc.get_objects():
        if type(one) is functools._lru_cache_wrapper and str(one.__module__).startswith(FORGETFUL):
            one.cache_clear()
