"""Which of the two stages runs; see `tests.stages`."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import is_hypothesis_test
from tests import stages

if TYPE_CHECKING:
    from tests import solved_once


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--draws", type=int, metavar="SEED", help="what the second stage draws from")
    parser.addoption(
        "--cases",
        type=int,
        metavar="N",
        default=stages.CASES,
        help="drawn cases the second stage plans whole",
    )


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Begin the stage; processes that run tests for another one are told its seed."""
    gc.set_threshold(20_000, 20, 50)
    seed = getattr(config, "workerinput", {}).get("draws", config.option.draws)
    stages.begin("not thorough" not in config.option.markexpr, seed, config.option.cases)
    if stages.NOW.thorough and config.option.hypothesis_seed is None:
        config.option.hypothesis_seed = str(stages.NOW.seed)


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    """Tell a process that will run tests what the others draw from."""
    node.workerinput["draws"] = stages.NOW.seed


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let what draws, and what has more to do there, run in the second stage too."""
    for item in items if stages.NOW.thorough else ():
        if item.get_closest_marker("both") or is_hypothesis_test(getattr(item, "obj", None)):
            item.add_marker("thorough")


def pytest_collection_finish() -> None:
    """Look for rings of garbage among what tests make alone: what is imported by now stays."""
    gc.freeze()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if stages.NOW.thorough:
        terminalreporter.write_line(
            f"drawn from {stages.NOW.seed}: the same again with --draws={stages.NOW.seed}"
        )


@pytest.fixture(scope="session", autouse=True)
def documents_held_against_their_schemas() -> Iterator[None]:
    """Hold every document that any test has written, and every file it has read, against its schema."""
    from tests.docs.schemas import faults_of, held_file

    from deskmend.intake import case_file
    from deskmend.intake.reading import records
    from deskmend.report import documents

    write: Callable[[Any], Any] = documents._whole

    def watched(value: Any) -> Any:
        told = write(value)
        if isinstance(value, dict) and str(value.get("format", "")).startswith("deskmend-"):
            faults = faults_of(told)
            assert not faults, faults
        return told

    read = records.read_plain

    def read_and_held(plain: Any, model: Any, *rest: Any) -> Any:
        record, faults = read(plain, model, *rest)
        if record is not None and not faults:
            held_file(plain, model)
        return record, faults

    patch = pytest.MonkeyPatch()
    patch.setattr(documents, "_whole", watched)
    patch.setattr(records, "read_plain", read_and_held)
    patch.setattr(case_file, "read_plain", read_and_held)
    yield
    patch.undo()


@pytest.fixture(scope="session", autouse=True)
def searches_remembered() -> Iterator[solved_once.Memory]:
    """Search the same problem once for all tests; see `tests.solved_once`."""
    from tests import solved_once

    patch = pytest.MonkeyPatch()
    yield solved_once.remember(patch)
    patch.undo()


@pytest.fixture(autouse=True)
def searches_of_the_engines_anew(
    request: pytest.FixtureRequest, searches_remembered: solved_once.Memory
) -> None:
    """Where the search itself is tested it searches."""
    engines = request.path.parent.name == "choice"
    searches_remembered.lasts = not engines and request.node.get_closest_marker("anew") is None
