"""How commands end: exit codes, faults as text and JSON, never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import deskmend
from deskmend.errors import DefectError
from deskmend.planning.plan import NoPlan, Plan

from .conftest import CASE, PRICES, Run

HOSTILE = {
    "missing": None,
    "empty": b"",
    "binary": b"\x00\x01\x02",
    "not_utf8": b"format: \xff\xfe",
    "alias": b"a: &x 1\nb: *x\n",
    "deep": b"[" * 500 + b"]" * 500,
    "list": b"- 1\n- 2\n",
    "word": b"hello\n",
    "steering": "format: deskmend-case/1\ntitle: \u202ereversed\n".encode(),
    "escape": b"format: deskmend-case/1\ntitle: \x1b[31mred\n",
    "other_format": b"format: deskmend-case/9\n",
}


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.parametrize("command", ["assess", "plan", "check"])
def test_bad_files_are_told_without_a_traceback(run: Run, tmp_path: Path, name: str, command: str) -> None:
    file = tmp_path / f"{name}.yaml"
    content = HOSTILE[name]
    if content is not None:
        file.write_bytes(content)
    result = run(command, str(file))
    assert result.exit_code == 2
    told = result.stdout + result.stderr
    assert str(file) in told
    assert "Traceback" not in told
    assert "\x1b" not in told
    assert "\u202e" not in told
    document = json.loads(run(command, str(file), "--json").stdout)
    assert document["format"] == "deskmend-faults/1"
    assert document["faults"]
    for fault in document["faults"]:
        assert {"file", "line", "where", "read", "allowed", "hint"} <= fault.keys()


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (
            ["bogus"],
            "allowed allocate, assess, casebook, catalog, check, compare, measure, new, open, plan, ",
        ),
        (["asess"], "did you mean assess?"),
        (["plan"], "CASE"),
        (["plan", CASE, "--bugdet", "4"], "did you mean --budget"),
        (["plan", CASE, "--budget", "-5"], "--budget"),
        (["plan", CASE, "--budget", "1e3"], "an amount in EUR as 40.00"),
        (["plan", CASE, "--budget", "4,500"], "did you mean 4500?"),
        (["plan", CASE, "--budget", "nan", "--saving", "x"], "--saving"),
        (["plan", CASE, "--minutes", "-1"], '--minutes: read "-1"; allowed whole numbers 0 to 100000\n'),
        (["plan", CASE, "--minutes", "ten"], '--minutes: read "ten"; allowed whole numbers 0 to 100000\n'),
        (["plan", CASE, "--time", "0"], "allowed numbers over 0, at most 1000000\n"),
        (["plan", CASE, "--language", "fr"], '--language: read "fr"; allowed en, es\n'),
        (["plan", CASE, "--buget", "4"], "did you mean --budget?\n"),
        (["compare", CASE, "--budget", "4"], "see deskmend compare --help"),
        (
            ["compare", CASE, "--plot", "x.pdf"],
            'read "x.pdf"; allowed a name that ends in .svg or .png',
        ),
        (["compare", CASE, "--plot", "/no/such/folder/x.svg"], "there is no such folder"),
        (["report", CASE, "--out", "x.pdf"], '--out: read "x.pdf"; allowed a name that ends in .html'),
        (["report", CASE, "--out", "/no/such/folder/x.html"], "there is no such folder"),
        (["plan", CASE, "--prove", "--time", "5"], "--prove"),
        (["plan", CASE, "--must", "no such fix"], "FIX, PLACE.FIX or TASK.FIX"),
        (["plan", CASE, "--never", "screen_bookz"], "did you mean screen_books?"),
        (["assess", CASE, "--with", "bedroom.back_towel"], "kitchen"),
        (["assess", CASE, "--with", "back_towel", "--with", "back_cushion"], "both settle back_support"),
        (["assess", CASE, "--catalog", "nowhere"], "nowhere"),
        (["assess", CASE, "--prices", "nowhere.csv"], "nowhere.csv"),
        (["assess", "\ud800.yaml"], "cannot be read"),
        (["catalog", "screen_bookz"], "did you mean screen_books?"),
        (["catalog", "--prices", "nowhere.csv"], "nowhere.csv"),
        (["check"], "FILE"),
        (["new", "/no/such/folder/case.yaml", "--blank"], "cannot be written"),
    ],
)
def test_wrong_arguments_end_with_2_and_say_what_is_allowed(
    run: Run, arguments: list[str], expected: str
) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert expected in result.stderr
    assert "Traceback" not in result.stderr
    document = json.loads(run(*arguments, "--json").stdout)
    assert document["format"] == "deskmend-faults/1"
    assert document["faults"]


def test_faults_of_several_amounts_are_told_at_once(run: Run) -> None:
    document = json.loads(run("plan", CASE, "--budget", "x", "--saving", "y", "--json").stdout)
    assert [fault["where"] for fault in document["faults"]] == ["--budget", "--saving"]


def test_no_plan_ends_with_1_and_says_what_would_help(run: Run) -> None:
    arguments = ["plan", CASE, "--prices", PRICES, "--budget", "1.00", "--must", "keyboard_basic"]
    result = run(*arguments)
    assert result.exit_code == 1
    assert "money" in result.stderr
    assert result.stdout == ""
    document = json.loads(run(*arguments, "--json").stdout)
    assert document["format"] == "deskmend-failure/1"
    assert document["exit"] == 1
    assert "EUR" in document["would_help"]


@pytest.fixture(scope="module")
def small_plan() -> Plan:
    """A real plan, found quickly because next to nothing may be done."""
    case = deskmend.load_case(CASE)
    return deskmend.plan(case, deskmend.load_catalog(), deskmend.load_prices(PRICES), budget=0, minutes=5)


def test_an_unproven_plan_is_shown_with_its_gap_and_ends_with_3(
    run: Run, monkeypatch: pytest.MonkeyPatch, small_plan: Plan
) -> None:
    assert small_plan.best is not None
    best = replace(small_plan.best, choice=replace(small_plan.best.choice, proven=False, status="not_proven"))
    bound = best.strain - 250_000
    unproven = replace(small_plan, best=best, choice=best.choice, strain_bound=bound)
    monkeypatch.setattr("deskmend.planning.plan.planned", lambda *_, **__: unproven)
    result = run("plan", CASE, "--prices", PRICES, "--time", "1", "--steps")
    assert result.exit_code == 3
    assert "Not proven best" in result.stdout
    assert "The gap is 0.25." in " ".join(result.stdout.split())
    document = json.loads(run("plan", CASE, "--prices", PRICES, "--json").stdout)
    assert document["proof"]["status"] == "not_proven"
    assert document["proof"]["strain_bound"] == bound / 1_000_000


@pytest.mark.parametrize(
    ("error", "code", "told"),
    [
        (DefectError("the plan failed its check"), 70, "the fault is ours"),
        (ZeroDivisionError("division by zero"), 70, "the fault is ours"),
        (NoPlan("money does not suffice", "12.90 EUR would"), 1, "12.90 EUR would"),
        (KeyboardInterrupt(), 130, ""),
    ],
)
def test_every_ending_has_its_exit_code(
    run: Run, monkeypatch: pytest.MonkeyPatch, error: BaseException, code: int, told: str
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise error

    monkeypatch.setattr("deskmend.planning.plan.planned", fail)
    monkeypatch.delenv("DESKMEND_DEBUG", raising=False)
    result = run("plan", CASE, "--prices", PRICES)
    assert result.exit_code == code
    assert told in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


def test_a_defect_shows_where_only_when_asked(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("deskmend.planning.plan.planned", fail)
    monkeypatch.setenv("DESKMEND_DEBUG", "1")
    assert "Traceback" in run("plan", CASE, "--prices", PRICES).stderr


def run_apart(
    *arguments: str, environment: dict[str, str] | None = None, stdout: Any = subprocess.PIPE
) -> subprocess.CompletedProcess[bytes]:
    source = str(Path(deskmend.__file__).resolve().parents[1])
    path = os.pathsep.join(p for p in (source, os.environ.get("PYTHONPATH", "")) if p)
    return subprocess.run(
        [sys.executable, "-m", "deskmend", *arguments],
        env={**os.environ, "PYTHONPATH": path, **(environment or {})},
        stdout=stdout,
        stderr=subprocess.PIPE,
        check=False,
        timeout=120,
    )


def test_same_input_gives_the_same_bytes_whatever_the_machine(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = tmp_path / "case.yaml"
    text = Path(CASE).read_text(encoding="utf-8")
    case.write_text(text.replace("title: ", "title: Бухгалтер ü "), encoding="utf-8")
    arguments = ("assess", str(case), "--prices", PRICES)
    monkeypatch.setenv("COLUMNS", "200")
    plain = {
        "LC_ALL": "C",
        "PYTHONUTF8": "0",
        "PYTHONIOENCODING": "ascii",
        "COLUMNS": "40",
        "PYTHONHASHSEED": "1",
    }
    first, second = run_apart(*arguments, environment=plain), run(*arguments)
    assert first.returncode == second.exit_code == 0, first.stderr
    assert first.stdout == second.stdout_bytes
    assert "Бухгалтер ü" in first.stdout.decode("utf-8")
    assert b"\x1b" not in first.stdout
    assert b"\r" not in first.stdout


@pytest.mark.skipif(os.name != "posix", reason="a pipe without a reader ends a process only on POSIX")
def test_a_reader_that_went_away_is_no_error() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = run_apart("catalog", stdout=writing)
    finally:
        os.close(writing)
    assert done.returncode == 141
    assert done.stderr == b""


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from deskmend.cli import deskmend\n"
        "try:\n    deskmend.main(['plan', '--help'])\n"
        "except SystemExit:\n    pass\n"
        "print([m for m in ('numpy', 'pandas', 'pydantic', 'yaml', 'pulp', 'highspy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_version_is_the_one_of_the_package(run: Run) -> None:
    assert run("--version").stdout == f"deskmend {deskmend.__version__}\n"
