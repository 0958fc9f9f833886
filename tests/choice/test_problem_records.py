"""Records refuse what cannot be meant, with every fault at once."""

import pickle

import numpy as np
import pytest

from deskmend.choice import Bound, Decision, InvalidProblem, Item, Mask, Node, Option, Problem, Table


def faults(make: object) -> tuple[str, ...]:
    with pytest.raises(InvalidProblem) as caught:
        make()
    return caught.value.faults


def two() -> Decision:
    return Decision("d", [Option("keep"), Option("take")])


def test_contract_form_is_accepted() -> None:
    problem = Problem(
        decisions=[
            Decision("d", [Option("keep"), Option("take", use={"pen": 2}, minutes=5)]),
            Decision("e", [Option("keep"), Option("other")]),
        ],
        items=[Item("pen", price=150, pack=10, owned=1, stock=None, tiers=[(10, 120)])],
        tables=[Table(("d",), [3, 1])],
        forbidden=[{"d": "take", "e": "keep"}],
        money=None,
        minutes=None,
    )
    assert [decision.name for decision in problem.decisions] == ["d", "e"]
    assert problem.items[0].tiers == ((10, 120),)


def test_numbers_of_numpy_are_accepted_and_fractions_are_not() -> None:
    assert Option("o", use={"pen": np.int64(2)}).use == {"pen": 2}
    assert faults(lambda: Option("o", minutes=2.5)) == (
        "option 'o': minutes must be a whole number, not 2.5",
    )
    assert faults(lambda: Option("o", minutes=True)) == (
        "option 'o': minutes must be a whole number, not True",
    )
    assert "must hold whole numbers" in faults(lambda: Table(("d",), np.array([0.5, 1])))[0]


def test_every_fault_of_a_record_is_named() -> None:
    found = faults(lambda: Item("pen", price=-1, pack=0, owned=-2, stock=-3, tiers=[(2, 5), (2, 4)]))
    assert len(found) == 5
    assert any("two tiers" in fault for fault in found)


def test_tiers_need_a_price() -> None:
    assert faults(lambda: Item("pen", price=None, tiers=[(2, 5)])) == (
        "item 'pen': it has tiers but no price",
    )


def test_every_fault_of_a_problem_is_named_at_once() -> None:
    found = faults(
        lambda: Problem(
            [two(), Decision("d", [Option("x", use={"nail": 1})])],
            [Item("pen", 1), Item("pen", 2)],
            [Table(("q",), [1]), Table(("d",), [1, 2, 3])],
            forbidden=[{}, {"d": "y"}, {"z": "x"}],
            nodes=[Node("n", ("later",), [0], 1)],
            masks=[Mask(("d", "n"), [[True]])],
            bounds=[Bound([Table(("d",), [1], when=("d", "nowhere"))], 3)],
        )
    )
    for part in (
        "'d' is used for two",
        "item 'pen' stands twice",
        "item 'nail' is unknown",
        "'q' is no decision",
        "shape (3,)",
        "forbidden 0 is empty",
        "no option 'y'",
        "'z' is no decision or node",
        "'later' is no decision",
        "bound 0",
    ):
        assert any(part in fault for fault in found), part


def test_node_index_must_name_states() -> None:
    assert "0..1" in faults(lambda: Node("n", ("d",), [0, 2], 2))[0]


def test_a_node_state_is_a_number_and_an_option_a_name() -> None:
    node = Node("n", ("d",), [0, 1], 2)
    assert "no state 'take'" in faults(lambda: Problem([two()], nodes=[node], forbidden=[{"n": "take"}]))[0]
    assert "no option 1" in faults(lambda: Problem([two()], nodes=[node], forbidden=[{"d": 1}]))[0]


def test_sums_that_may_overflow_are_refused() -> None:
    huge = 2**59
    found = faults(lambda: Problem([two()], tables=[Table(("d",), [0, huge])] * 3))
    assert "the values may add up to" in found[0]
    assert (
        "may add up"
        in faults(
            lambda: Problem([Decision("d", [Option("k"), Option("t", use={"pen": 4})])], [Item("pen", huge)])
        )[0]
    )


def test_records_do_not_share_arrays_with_their_maker() -> None:
    values = np.array([3, 1])
    table = Table(("d",), values)
    values[0] = 99
    assert table.values.tolist() == [3, 1]
    assert not table.values.flags.writeable


def test_problems_can_be_sent_to_another_process() -> None:
    problem = Problem([two()], tables=[Table(("d",), [3, 1])])
    copy = pickle.loads(pickle.dumps(problem))
    assert copy.tables[0].values.tolist() == [3, 1]
    assert copy.decisions == problem.decisions
