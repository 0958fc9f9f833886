"""A planted fault is really run: in each way that a function can be wrapped, and told where it cannot be."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from plant_faults import Collected
from trials import Trial, Verdict

MODULE = """
from dataclasses import dataclass
from functools import cache, cached_property

LENGTH = 3
TURNED = {"twice": lambda number: number * 2}

def plain(number):
    return number + 1

@cache
def remembered(number):
    return number + 2

def within(number):
    return (lambda other: other + number)

MADE = within(3)

@dataclass
class Pair:
    one: int = 4
    @property
    def more(self):
        return self.one + 5
    @cached_property
    def most(self):
        return [each + 6 for each in (self.one,)][0]

def unseen(number):
    return number + 7

def turning(number):
    while number < 8:
        number += 1
    return number
"""
TESTS = """
from deskmend.sums import LENGTH, MADE, TURNED, Pair, plain, remembered, turning, unseen
KNOWN = remembered(0)

def test_constant(): assert LENGTH == 3
def test_table(): assert TURNED["twice"](2) == 4
def test_plain(): assert plain(0) == 1
def test_remembered(): assert remembered(0) == 2
def test_made(): assert MADE(0) == 3
def test_property(): assert Pair().more == 9
def test_cached_property(): assert Pair().most == 10
def test_default(): assert Pair().one == 4
def test_turning(): assert turning(0) == 8
def test_unseen(): assert unseen(0) > 0
def test_never_right(): assert False
"""
BROKEN: dict[str, int | None] = {"tests/test_sums.py::test_never_right": None}


@pytest.fixture(scope="module")
def collected(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Collected]:
    folder = tmp_path_factory.mktemp("copy") / "project"
    for name, text in (("src/deskmend/sums.py", MODULE), ("tests/test_sums.py", TESTS)):
        (folder / name).parent.mkdir(parents=True)
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "src" / "deskmend" / "__init__.py").touch()
    with Collected(folder, ["tests/"], 600.0) as tests:
        yield tests


def ask(
    tests: Collected,
    right: str = "",
    wrong: str = "",
    places: dict[str, int | None] = BROKEN,
    hang: float = 500.0,
) -> Verdict:
    assert right in MODULE
    text = MODULE.replace(right, wrong, 1)
    return tests.ask(Trial(places, ("tests/",), 600.0, hang, "deskmend.sums" if right else "", text))


@pytest.mark.parametrize(
    ("right", "wrong", "by"),
    [
        ("number * 2", "number * 3", "table"),
        ("number + 1\n", "number - 1\n", "plain"),
        ("number + 2", "number + 1", "remembered"),
        ("other + number", "other - number", "made"),
        ("self.one + 5", "self.one + 6", "property"),
        ("each + 6", "each * 6", "cached_property"),
        ("number + 7", "undefined", "unseen"),
    ],
)
def test_a_fault_in_a_function_is_run(collected: Collected, right: str, wrong: str, by: str) -> None:
    assert ask(collected, right, wrong) == ("caught", f"tests/test_sums.py::test_{by}")


@pytest.mark.parametrize("right", ["LENGTH = 3", "one: int = 4"])
def test_a_fault_outside_functions_has_to_be_loaded(collected: Collected, right: str) -> None:
    assert ask(collected, right, right[:-1] + "9")[0] == "outside"


def test_what_no_test_notices_survives_and_what_does_not_end_hangs(collected: Collected) -> None:
    assert ask(collected, "number + 7", "number + 8") == ("survived", "")
    assert ask(collected, "number += 1", "number += 1.0") == ("survived", "")
    assert ask(collected, "number += 1", "number += 0", hang=2.0)[0] == "hangs"


def test_tests_run_in_their_places_after_those_not_known(collected: Collected) -> None:
    assert ask(collected, places={}) == ("caught", "tests/test_sums.py::test_never_right")
    names = [f"tests/test_sums.py::test_{name}" for name in ("property", "plain", "default")]
    wrong = "1 / 0\n"
    for first, second in ((0, 1), (1, 0)):
        places = {**BROKEN, names[0]: first, names[1]: second}
        assert ask(collected, "self.one + 5", wrong, places)[1] == names[0]
    broken = {name: number for number, name in enumerate([*names, *BROKEN])}
    assert ask(collected, places=broken) == ("caught", "tests/test_sums.py::test_never_right")
    assert ask(collected) == ("survived", "")
