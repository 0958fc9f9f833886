"""Processes answer what they are asked, keep what they made, and end when they are told to."""

from __future__ import annotations

import gc
import os
import time
from collections.abc import Callable, Iterator
from multiprocessing import active_children
from multiprocessing.connection import wait

import pytest

from deskmend.errors import DefectError
from deskmend.processes import Processes, _Queue


def answering(first: int) -> Callable[[object], object]:
    """Counts from a number, so that whoever is asked again is found out."""
    asked = iter(range(first, first + 100))

    def answer(question: object) -> object:
        if question == "fail":
            raise ValueError("nobody knows")
        if question == "die":
            os._exit(3)
        if question == "rings":
            return gc.get_threshold()
        if question == "wait":
            time.sleep(600)
        return question, os.getpid(), next(asked)

    return answer


@pytest.fixture
def two() -> Iterator[Processes]:
    before = set(active_children())
    made = Processes(2, answering, 7)
    yield made
    made.close()
    for process in set(active_children()) - before:
        # asking it for its end would race with the executor, which asks too
        assert wait([process.sentinel], 60)


def test_a_process_keeps_what_it_made_and_answers_all_that_is_asked_under_a_key(two: Processes) -> None:
    asked = [("a", 1), ("b", 2), ("a", 3), ("b", 4)]
    found = dict(two.answers(asked))
    assert [found[place][0] for place in range(4)] == [1, 2, 3, 4]
    again = dict(two.answers([("b", 5), ("a", 6)]))
    homes = {key: found[place][1] for place, (key, _) in enumerate(asked) if place > 1}
    assert again[0][:2] == (5, homes["b"])
    assert again[1][:2] == (6, homes["a"])
    counted = sorted((pid, count) for _, pid, count in [*found.values(), *again.values()])
    pids = [pid for pid, _ in counted]
    assert [count for _, count in counted] == [7 + pids[:place].count(pid) for place, pid in enumerate(pids)]
    assert os.getpid() not in pids


def test_a_process_looks_for_rings_of_records_as_seldom_as_its_parent(two: Processes) -> None:
    before = gc.get_threshold()
    try:
        gc.set_threshold(4321, 12, 34)
        assert list(two.answers([("a", "rings")])) == [(0, (4321, 12, 34))]
    finally:
        gc.set_threshold(*before)


def test_an_error_in_a_process_is_raised_where_it_was_asked(two: Processes) -> None:
    with pytest.raises(ValueError, match="nobody knows"):
        list(two.answers([("a", 1), ("b", "fail")]))
    assert [answer[0] for _, answer in two.answers([("a", 9)])] == [9]


def test_a_question_over_which_every_process_dies_is_a_defect(two: Processes) -> None:
    with pytest.raises(DefectError, match="died again and again"):
        list(two.answers([("a", "die")]))


def test_closing_ends_a_process_whatever_it_is_at(two: Processes) -> None:
    """What the fixture asserts afterwards: neither is left, though one would work for minutes."""
    answers = two.answers([("a", 1), ("b", 2), ("c", "wait")])
    assert {next(answers)[0], next(answers)[0]} == {0, 1}
    answers.close()


def test_each_process_gets_its_own_questions_first_and_then_whatever_is_left() -> None:
    left = dict(enumerate(range(5)))
    queue = _Queue(left, {3: 1, 4: 0}, 2)
    assert list(queue.next_for(0)) == [4]
    assert list(queue.next_for(1)) == [3]
    assert list(queue.next_for(0)) == []
    queue.done(0)
    assert list(queue.next_for(0)) == [0]
    queue.done(1)
    assert list(queue.next_for(1)) == [1]
    queue.done(0)
    assert list(queue.next_for(0)) == [2]
    queue.done(0)
    assert list(queue.next_for(0)) == []
