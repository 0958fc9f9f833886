"""Wherever plans are worked out the answers are the same, and a worker that dies loses nothing."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from multiprocessing import active_children
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner
from distributed import LocalCluster
from tests.stages import some

from deskmend.cli import deskmend as program
from deskmend.errors import DefectError, InputFaults
from deskmend.grants.people import workers as pool_task
from deskmend.grants.people.check import GivenPlan
from deskmend.grants.people.columns import EVERY_COST, Column
from deskmend.grants.people.plans import PersonPlans, PersonProblem, PlanBasis
from deskmend.grants.people.workers import Cluster, InProcess, LocalProcesses, Workers
from deskmend.intake.applicants import ApplicantRow
from deskmend.intake.given_before import Had
from deskmend.planning.ready_case import NoPlan

from .fund_people import BASE, CATALOG, PRICES, SMALL, TABLE, people, rows

FEW = SMALL[:3]
"""Of whom everything is asked, wherever it is worked out."""
Answers = tuple[list[object], dict[str, Column], dict[str, tuple[Column, ...]], dict[str, object]]


def answers(workers: Workers | None = None, kill: int | None = None) -> Answers:
    """Ask everything once; where a process is named, kill it after the first answer about columns."""
    asked = people(FEW, workers)
    applicants = asked.applicants()
    best = dict(asked.best({}, {one.id: one.weight for one in applicants}, 2_000_000))
    if kill is not None:
        asked._done = lambda count, of: os.kill(kill, signal.SIGKILL) if count == 1 else None
    columns = {name: tuple(found) for name, found in asked.columns({"tape": 900}, list(FEW)).items()}
    asked._done = None
    told = {name: shown(plan) for name, plan in asked.told(best, steps=True).items()}
    return list(applicants), best, columns, told


def shown(plan: GivenPlan) -> object:
    names = [option.with_name for option in plan.steps]
    return names, plan.today, plan.bill, plan.strain_before, plan.strain_free, plan.strain_after


@pytest.fixture(scope="module")
def here() -> Answers:
    return answers()


def test_answers_hold_what_they_should(here: Answers) -> None:
    applicants, best, columns, told = here
    assert len(applicants) == len(best) == len(told) == len(FEW)
    assert sum(len(found) for found in columns.values()) > 2 * len(FEW)
    assert BASE["tape"] != 900


def test_processes_give_the_same_answers_and_outlive_a_death(here: Answers) -> None:
    hands = LocalProcesses(PlanBasis(CATALOG, PRICES), 2)
    try:
        people(FEW, hands).applicants()
        (process, *_) = pids = {one.pid for one in active_children() if one.pid is not None}
        assert len(pids) == 2
        assert answers(hands, kill=process) == here
        again = {one.pid for one in active_children()}
        assert len(again) == 2
        assert process not in again
    finally:
        hands.close()


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0", silence_logs=50
    ) as started:
        yield started


@pytest.mark.thorough
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_a_cluster_gives_the_same_answers_and_outlives_a_worker(cluster: LocalCluster, here: Answers) -> None:
    hands = Cluster(PlanBasis(CATALOG, PRICES), cluster.scheduler_address)
    try:
        process = cluster.workers[0].process.process.pid
        assert answers(hands, kill=process) == here
        assert cluster.workers[0].process is None or cluster.workers[0].process.process.pid != process
    finally:
        hands.close()


def test_nobody_at_the_address_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("deskmend.grants.people.workers.CONNECT_SECONDS", 1)
    with pytest.raises(InputFaults, match="no connection"):
        Cluster(PlanBasis(CATALOG, PRICES), "tcp://127.0.0.1:9")
    with pytest.raises(InputFaults, match="--cluster"):
        Cluster(PlanBasis(CATALOG, PRICES), "no address at all")


@pytest.mark.parametrize(
    ("answer", "error"), [([1, 2], None), ("0.0.1", InputFaults), (7, DefectError), ({"a": 1}, DefectError)]
)
def test_what_a_worker_answers_is_a_list_or_told(answer: Any, error: type[Exception] | None) -> None:
    """A text is the version of a worker that has another deskmend; anything else nobody asked for."""
    hands = object.__new__(Cluster)
    hands._address = "tcp://127.0.0.1:9"
    future = SimpleNamespace(result=lambda timeout: answer)
    if error is None:
        assert hands._result(future, pool_task._Watch()) == answer
    else:
        with pytest.raises(error):
            hands._result(future, pool_task._Watch())


def quiet_cluster(workers: int) -> LocalCluster:
    return LocalCluster(
        n_workers=workers,
        threads_per_worker=1,
        processes=False,
        dashboard_address="127.0.0.1:0",
        silence_logs=50,
    )


def test_a_cluster_without_workers_is_a_fault_that_comes_in_the_time_allowed() -> None:
    with quiet_cluster(0) as empty, pytest.raises(InputFaults, match=r"no worker came within 0\.5 s"):
        Cluster(PlanBasis(CATALOG, PRICES), empty.scheduler_address, 0.5)


def test_tls_without_certificates_is_a_fault_that_says_where_they_go() -> None:
    with pytest.raises(InputFaults, match="not told which certificates") as told:
        Cluster(PlanBasis(CATALOG, PRICES), "tls://127.0.0.1:9")
    assert "distributed.comm.tls" in str(told.value)


def test_a_worker_of_another_version_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    with quiet_cluster(1) as small:
        hands = Cluster(PlanBasis(CATALOG, PRICES), small.scheduler_address)
        try:
            monkeypatch.setattr("deskmend.grants.people.workers._answers_there", lambda *_: "0.0.1")
            with pytest.raises(InputFaults, match=r"a worker has deskmend 0\.0\.1"):
                people(FEW, hands).applicants()
        finally:
            hands.close()


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("lost", some(["scheduler", "workers"], "scheduler"))
def test_a_cluster_that_is_lost_on_the_way_ends_with_one_plain_sentence(
    lost: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("deskmend.grants.people.workers.ALIVE_SECONDS", 0.1)
    small = quiet_cluster(1)
    hands = Cluster(PlanBasis(CATALOG, PRICES), small.scheduler_address, 0.5)
    asked = people(FEW, hands)

    def lose(count: int, of: int) -> None:
        if count == 1:
            small.close() if lost == "scheduler" else small.scale(0)

    asked._done = lose
    words = "scheduler does not answer" if lost == "scheduler" else "no workers any more"
    try:
        with pytest.raises(NoPlan, match=words) as told:
            asked.columns({"tape": 900}, list(FEW))
        assert told.value.timed_out
    finally:
        hands.close()
        small.close()


@pytest.mark.thorough
def test_nothing_changes_where_a_process_can_keep_almost_nobody(
    here: Answers, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pool_task, "KEPT_PEOPLE", 3)
    monkeypatch.setattr(pool_task, "KEPT_READY", 0)
    monkeypatch.setattr("deskmend.grants.people.workers.memory_for", lambda processes: 100_000)
    assert answers() == here


def test_of_whom_plans_are_offered_only_these_are_kept_and_answer_all_that_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ana is offered nothing; nobody is modelled twice, whatever is asked afterwards."""
    names = ("ana-01", "cora-03", "dado-04")
    basis = PlanBasis(CATALOG, PRICES, every_gain=False)
    met: list[str] = []
    make = pool_task.made_together

    def made(some: Sequence[tuple[ApplicantRow, Had]], basis: PlanBasis) -> dict[str, PersonProblem]:
        met.extend(row.id for row, _ in some)
        return make(some, basis)

    monkeypatch.setattr(pool_task, "made_together", made)
    pool = people(names, InProcess(basis))
    alone = {name: PersonPlans(rows()[name], basis) for name in names}
    weights = {one.id: one.weight for one in pool.applicants()}
    for _ in range(2):
        assert pool.applicants() == [alone[name].applicant() for name in names]
        for tape in (0, 900):
            best = pool.best({"tape": tape, "footrest": 40}, weights, 2_000_000)
            assert best == {
                name: alone[name].best({"tape": tape, "footrest": 40}, weights[name], 2_000_000, {})
                for name in names
            }
        for name, found in pool.columns({"tape": 900}, names).items():
            assert list(found) == list(alone[name].columns({"tape": 900}, {}))
        for name, every in pool.every(["footrest"], dict.fromkeys(names, EVERY_COST)).items():
            assert every == list(alone[name].offered)
        assert pool.left_out(names) == {name: alone[name].left_out() for name in names}
        # as where the engine was broken off before it had asked for plans
        given = pool.told(dict.fromkeys(names, Column((), 0)), steps=False)
        assert {name: one.strain_after for name, one in given.items()} == {
            name: alone[name].free.strain for name in names
        }
    assert pool.left_out(names)["ana-01"] is not None
    assert sorted(met) == sorted(names)


def test_a_person_who_was_given_something_is_another_person() -> None:
    cache = pool_task.PersonCache(PlanBasis(CATALOG, PRICES), 10**9)
    row = rows()["dado-04"]
    before = cache.answers([pool_task.Job(row, Had(), "applicant", ())])[0]
    column = cache.answers([pool_task.Job(row, Had(), "columns", ({}, {}))])[0][-1]
    after = cache.answers([pool_task.Job(row, Had(owned=column.packs), "applicant", ())])[0]
    assert after.strain_free == column.strain < before.strain_free


@pytest.mark.thorough
def test_the_command_works_on_a_cluster(cluster: LocalCluster, tmp_path: Path) -> None:
    note, header, *lines = TABLE.read_text(encoding="utf-8").splitlines()
    table = tmp_path / "people.csv"
    kept = [line for line in lines if line.startswith(("cora-03", "dado-04"))]
    table.write_text("\n".join([note, header, *kept]) + "\n", encoding="utf-8")
    shared = ["allocate", str(table), "--fund", "9", "--prices", str(TABLE.with_name("prices.csv"))]
    outs = []
    for name, more in (("here", []), ("there", ["--cluster", cluster.scheduler_address])):
        done = CliRunner().invoke(program, [*shared, *more, "--out", str(tmp_path / name)])
        assert done.exit_code == 0, done.stderr
        outs.append({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()})
    assert outs[0] == outs[1]
