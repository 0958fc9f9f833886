"""The command and the Python call: what goes in, what comes out, and that nothing is written by halves."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import deskmend
from deskmend.cli import deskmend as program
from deskmend.errors import InputFaults
from deskmend.grants.people import plans
from deskmend.grants.people.workers import People
from deskmend.grants.terms import Allocation, SharingStatus
from deskmend.intake.applicants import load_applicants
from deskmend.intake.case import Case
from deskmend.planning.model import tables
from deskmend.planning.plan import NoPlan
from deskmend.planning.ready_case import TooMuchToChoose

from .fund_people import CATALOG, FOLDER, PRICES, SMALL, TABLE

Rows = list[dict[str, str]]


def lines_of(*names: str) -> str:
    """The shipped table with these people alone."""
    note, header, *rows = TABLE.read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if row.split(",")[0] in names]
    assert len(kept) == len(names)
    return "\n".join([note, header, *kept]) + "\n"


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with six of the invented people and the scenario's prices."""
    folder = tmp_path_factory.mktemp("fund")
    (folder / "people.csv").write_text(lines_of(*SMALL), encoding="utf-8")
    (folder / "prices.csv").write_bytes((FOLDER / "prices.csv").read_bytes())
    return folder


def run(*arguments: str) -> Result:
    return CliRunner().invoke(program, ["allocate", *arguments])


@pytest.mark.anew
@pytest.mark.parametrize("more", [(), ("--every-gain",)])
def test_rows_with_more_to_choose_than_can_be_worked_out_are_all_told_and_nothing_is_written(
    more: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tables, "LARGEST_GRID", 50)
    monkeypatch.setattr(tables, "LARGEST_GRID_OF_MANY", 50)
    note, header, *rows = lines_of("gil-07", "hana-08", "pita-16").splitlines()
    ranges = ["380 500,600 800", ",", "400 460,"]
    people = tmp_path / "people.csv"
    written = [f"{row},{told}" for row, told in zip(rows, ranges, strict=True)]
    people.write_text("\n".join([note, f"{header},seat.height_range,desk.height_range", *written]) + "\n")
    out = tmp_path / "shared"
    result = run(
        str(people), "--prices", str(FOLDER / "prices.csv"), "--fund", "40", "--out", str(out), *more
    )
    assert result.exit_code == 2, result.stderr
    told = "more can be set here at once than can be worked out exactly"
    left_out = "these with one or two left out, those that matter least; what has no range stays"
    assert result.stderr.splitlines()[:3] == [
        f"{people}:3: seat.height_range, desk.height_range: {told}; allowed {left_out}",
        f"{people}:4: wishes.never: {told}; allowed more fixes that are not wanted",
        f"{people}:5: seat.height_range: {told}; allowed {left_out}",
    ]
    assert list(tmp_path.iterdir()) == [people]
    # with every row too wide nobody is left to share among
    skipped = run(
        str(people),
        "--prices",
        str(FOLDER / "prices.csv"),
        "--fund",
        "40",
        "--out",
        str(out),
        "--skip-invalid",
    )
    assert skipped.exit_code == 2, skipped.stderr
    assert list(tmp_path.iterdir()) == [people]


@pytest.mark.anew
def test_a_row_with_too_much_to_choose_is_set_aside_where_that_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ready = plans.prepare

    def prepare(case: Case, *known: Any, **more: Any) -> Any:
        if case.wishes.never:
            raise TooMuchToChoose(case, ())
        return ready(case, *known, **more)

    monkeypatch.setattr(plans, "prepare", prepare)
    note, header, first, second = lines_of("gil-07", "hana-08").splitlines()
    head = f"{header},wishes.never"
    people, out = tmp_path / "people.csv", tmp_path / "shared"
    written = [note, head, f"{first},screen_box", f"{second},"]
    people.write_text("\n".join(written) + "\n", encoding="utf-8")
    asked = (str(people), "--prices", str(FOLDER / "prices.csv"), "--fund", "40", "--out", str(out))
    refused = run(*asked)
    assert refused.exit_code == 2
    assert not out.exists()
    result = run(*asked, "--skip-invalid")
    assert result.exit_code == 0, result.stderr
    assert [(row["id"], row["row"]) for row in table(out / "rejected.csv")] == [("gil-07", "3")]
    assert [row["id"] for row in table(out / "people.csv")] == ["hana-08"]
    assert "1 row is set aside" in result.output
    assert json.loads((out / "summary.json").read_text(encoding="utf-8"))["rejected"] == 1


def table(path: Path) -> Rows:
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def done(room: Path) -> tuple[Result, Path]:
    out = room / "shared"
    return run(str(room / "people.csv"), "--fund", "40", "--letters", "--out", str(out)), out


def test_files_are_those_promised_with_their_columns(done: tuple[Result, Path]) -> None:
    result, out = done
    assert result.exit_code == 0, result.stderr
    assert sorted(path.name for path in out.iterdir()) == [
        "allocation.csv",
        "decision.json",
        "delivery.html",
        "letters",
        "people.csv",
        "purchase_order.csv",
        "receipts.html",
        "summary.json",
        "waiting.csv",
        "workbook.xlsx",
    ]
    heads = {path.name: path.read_text(encoding="utf-8").splitlines()[0] for path in out.glob("*.csv")}
    assert heads["allocation.csv"] == "id,item,packs,cost,size,unit,units,gone,title"
    strains = "strain_before,strain_free,strain_after"
    assert (
        heads["people.csv"]
        == f"id,{strains},cost,with,reason,still_amiss,decided,cost_now,weight,relief,steps"
    )
    assert heads["purchase_order.csv"] == "item,packs,unit_price,cost,size,unit,pack,ask_first,title"
    left_out = "best_left_out,its_cost,its_relief,told_above,its_steps"
    assert heads["waiting.csv"] == f"id,reason,not_served_at,served_at,{left_out},why"
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert {"fund", "spent", "relief", "bound", "gap", "policy", "people"} <= set(summary)
    assert (summary["policy"], summary["fund"], summary["people"]) == ("most_relief", "40.00", 6)
    assert (summary["status"], summary["gap"]) == ("optimal", 0.0)
    assert [path for path in out.parent.iterdir() if path.name.startswith(".")] == []


def test_everything_adds_up_from_the_files_alone(done: tuple[Result, Path], room: Path) -> None:
    """Money, packs, tiers, stock and relief are added again from what was written and the price table."""
    _, out = done
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    gifts, order, people = (table(out / f"{name}.csv") for name in ("allocation", "purchase_order", "people"))
    prices = [row for row in table_of_prices(room) if row["price"]]
    packs: Counter[str] = Counter()
    paid: Counter[str] = Counter()
    for gift in gifts:
        packs[gift["item"]] += int(gift["packs"])
        paid[gift["id"]] += Decimal(gift["cost"])  # type: ignore[assignment]
    for line in order:
        rows = [row for row in prices if row["item"] == line["item"]]
        bought = int(line["packs"])
        assert bought >= packs[line["item"]] > 0
        assert rows[0]["stock"] == "" or bought <= int(rows[0]["stock"])
        reached = [row for row in rows if bought >= int(row["from_packs"] or 1)]
        assert Decimal(line["unit_price"]) == Decimal(reached[-1]["price"])
        assert Decimal(line["cost"]) == bought * Decimal(line["unit_price"])
    assert {line["item"] for line in order} == set(packs)
    total = sum(Decimal(line["cost"]) for line in order)
    assert total == Decimal(summary["spent"]) <= Decimal(summary["fund"])
    assert sum(Decimal(gift["cost"]) for gift in gifts) == total
    assert {row["id"]: Decimal(row["cost"]) for row in people if Decimal(row["cost"])} == dict(paid)
    weights = {row.id: Decimal(row.weight) / 1000 for row in load_applicants(room / "people.csv").people}
    relief = sum(
        weights[row["id"]] * (Decimal(row["strain_free"]) - Decimal(row["strain_after"])) for row in people
    )
    assert float(relief) == summary["relief"] > 0


def table_of_prices(room: Path) -> Rows:
    lines = (room / "prices.csv").read_text(encoding="utf-8").splitlines()[1:]
    return list(csv.DictReader(lines))


def test_fixes_of_each_person_are_what_assess_says_they_are(done: tuple[Result, Path], room: Path) -> None:
    _, out = done
    rows = {row.id: row for row in load_applicants(room / "people.csv", CATALOG).people}
    for person in table(out / "people.csv"):
        case = rows[person["id"]].case
        found = deskmend.assess(case, CATALOG, PRICES, fixes=person["with"].split())
        assert f"{found.plain.total / 1e6:.6f}" == person["strain_after"]
        assert f"{found.plain_now.total / 1e6:.6f}" == person["strain_before"]
        assert found.breaches == ()


def test_letters_are_short_say_what_comes_and_hold_no_health_data(done: tuple[Result, Path]) -> None:
    _, out = done
    people = table(out / "people.csv")
    for person in people:
        text = (out / "letters" / f"letter_{person['id']}.txt").read_text(encoding="utf-8")
        assert text.startswith(f"Hello,\nYour reference: {person['id']}\n")
        assert ("Good news" in text) == (Decimal(person["cost"]) > 0)
        flat = " ".join(text.split())
        assert ("We look again in the next round" in flat) == person["reason"].startswith("Waiting")
        assert "no promise against pain or injury" in flat
        assert not any(word in flat for word in ("EUR", "strain-hour", "Choose a", "before paying"))
        assert all(word not in text for word in ("discomfort", "stature", "weight"))
        others = {other["id"] for other in people} - {person["id"]}
        assert all(other not in text for other in others)
        fixes = [name.split("=")[0].split(".")[-1] for name in person["with"].split()]
        parts = re.split(r"^[0-9]+\. ", text, flags=re.MULTILINE)[1:]
        assert len(parts) == len(fixes)
        for part in parts:
            fix = next(CATALOG.by_id[one] for one in fixes if part.startswith(CATALOG.by_id[one].title[:60]))
            told = " ".join(part.partition("What to mind")[0].split())
            for one in fix.cautions:
                if not one.conditions and "{" not in one.say:
                    assert (f"! {one.say}" in told) != (one.body_sign or one.buying)
                    assert not one.body_sign or one.say in flat.partition("What to mind")[2]
    served = next(person for person in people if Decimal(person["cost"]) > 0)
    text = (out / "letters" / f"letter_{served['id']}.txt").read_text(encoding="utf-8")
    assert text.index("You get") < text.index("Do this when your things are there")


@pytest.mark.parametrize(
    ("sign", "first", "called"),
    [
        ("chest_arm_jaw_pain", "Please get emergency care now: call the emergency number.", "! EMERGENCY: "),
        pytest.param(
            "after_fall_or_crash",
            "Please get medical advice today,",
            "! These people need medical advice ",
            marks=pytest.mark.thorough,
        ),
        pytest.param(
            "late_pregnancy",
            "Before you change anything, please see a doctor or nurse.",
            "",
            marks=pytest.mark.thorough,
        ),
    ],
)
def test_a_letter_begins_with_what_a_warning_sign_calls_for(
    room: Path, tmp_path: Path, sign: str, first: str, called: str
) -> None:
    """It names no sign; who must be called at once is the first line for whoever shares the fund."""
    note, header, *rows = lines_of(*SMALL[:2]).splitlines()
    name = rows[0].split(",")[0]
    lines = [note, f"{header},person.warning_signs", f"{rows[0]},{sign}", *(f"{row}," for row in rows[1:])]
    people = tmp_path / "people.csv"
    people.write_text("\n".join(lines) + "\n", encoding="utf-8")
    out = tmp_path / "out"
    prices = str(room / "prices.csv")
    done = run(str(people), "--fund", "40", "--letters", "--prices", prices, "--out", str(out))
    assert done.exit_code == 0, done.stderr
    text = (out / "letters" / f"letter_{name}.txt").read_text(encoding="utf-8")
    assert text.startswith(first)
    assert done.stdout.startswith(called)
    assert (name in done.stdout.splitlines()[0]) == bool(called)
    assert not any(word in text + done.stdout for word in ("chest", "fall", "crash", "pregnan"))


def test_the_page_and_the_document_tell_the_same(done: tuple[Result, Path], room: Path) -> None:
    result, out = done
    assert "of 6 people are given something" in result.stdout
    assert "gap" in result.stderr
    again = run(
        str(room / "people.csv"), "--fund", "40", "--json", "--quiet", "--out", str(room / "document")
    )
    assert again.stderr == ""
    assert json.loads(again.stdout) == json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert (room / "document" / "people.csv").read_bytes() == (out / "people.csv").read_bytes()


@pytest.mark.thorough
def test_another_order_of_rows_gives_the_same_files(
    done: tuple[Result, Path], room: Path, tmp_path: Path
) -> None:
    _, out = done
    lines = lines_of(*SMALL).splitlines(keepends=True)
    mixed = tmp_path / "mixed.csv"
    mixed.write_text("".join([*lines[:2], *reversed(lines[2:])]), encoding="utf-8")
    arguments = ["--fund", "40", "--prices", str(room / "prices.csv"), "--out", str(tmp_path / "out")]
    assert run(str(mixed), *arguments).exit_code == 0
    for name in ("allocation.csv", "people.csv", "purchase_order.csv", "waiting.csv", "summary.json"):
        assert (tmp_path / "out" / name).read_bytes() == (out / name).read_bytes()


def test_a_second_round_keeps_the_first_and_shares_the_rest(
    done: tuple[Result, Path], room: Path, tmp_path: Path
) -> None:
    _, first = done
    out = tmp_path / "second"
    given = first / "allocation.csv"
    result = run(str(room / "people.csv"), "--fund", "60", "--already", str(given), "--out", str(out))
    assert result.exit_code == 0, result.stderr
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    spent = sum(Decimal(gift["cost"]) for gift in table(given))
    assert Decimal(summary["already"]) == spent
    new = sum(Decimal(line["cost"]) for line in table(out / "purchase_order.csv"))
    assert spent < spent + new == Decimal(summary["spent"]) <= 60
    before = {(gift["id"], gift["item"]): int(gift["packs"]) for gift in table(given)}
    after = {(gift["id"], gift["item"]): int(gift["packs"]) for gift in table(out / "allocation.csv")}
    assert all(after[key] >= packs for key, packs in before.items())
    worse = {row["id"]: row["strain_after"] for row in table(first / "people.csv")}
    for row in table(out / "people.csv"):
        assert Decimal(row["strain_free"]) <= Decimal(worse[row["id"]])


def test_who_is_given_nothing_since_people_decided_so_is_told_just_that(room: Path, tmp_path: Path) -> None:
    note, header, row = lines_of("cora-03").splitlines()[:3]
    path = tmp_path / "people.csv"
    columns, cells = "given.most,given.reason,given.by,given.on", "0,is moving,board,2026-11-03"
    path.write_text(f"{note}\n{header},{columns}\n{row},{cells}\n", encoding="utf-8")
    arguments = [str(path), "--fund", "20", "--prices", str(room / "prices.csv"), "--letters"]
    result = run(*arguments, "--out", str(tmp_path / "out"))
    assert result.exit_code == 0, result.stderr
    assert [row["reason"] for row in table(tmp_path / "out" / "waiting.csv")] == ["decided"]
    letter = (tmp_path / "out" / "letters" / "letter_cora-03.txt").read_text(encoding="utf-8")
    said = " ".join(letter.split())
    assert "It was decided so for you in this round." in said
    assert "decided by people, not by the search: board, 2026-11-03." in said
    assert [row["decided"] for row in table(tmp_path / "out" / "people.csv")] == [
        "most 0: is moving (board, 2026-11-03)"
    ]
    (override,) = json.loads((tmp_path / "out" / "decision.json").read_text(encoding="utf-8"))["overrides"]
    assert (override["by"], override["on"]) == ("board", "2026-11-03")


@pytest.mark.thorough
def test_a_search_broken_off_writes_letters_only_where_asked(
    room: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def ended(*_: Any) -> Mapping[str, Any]:
        raise KeyboardInterrupt

    monkeypatch.setattr(People, "every", ended)
    monkeypatch.setattr(People, "best", ended)
    arguments = [str(room / "people.csv"), "--fund", "40", "--letters"]
    result = run(*arguments, "--out", str(tmp_path / "out"))
    assert (result.exit_code, (tmp_path / "out" / "letters").exists()) == (3, False)
    assert "no letters are written" in result.stderr
    assert {row["reason"] for row in table(tmp_path / "out" / "waiting.csv")} == {"broken_off"}
    assert "not looked at for the reason" in " ".join(result.stdout.split())
    result = run(*arguments, "--unfinished-letters", "--out", str(tmp_path / "more"))
    assert (result.exit_code, len(list((tmp_path / "more" / "letters").glob("*.txt")))) == (3, 6)


def test_rows_with_faults_are_refused_or_set_aside_with_reasons(room: Path, tmp_path: Path) -> None:
    lines = lines_of("ana-01", "cora-03").splitlines()
    bad = next(line for line in lines if line.startswith("cora-03,")).replace("cora-03", "=cmd").split(",")
    bad[lines[1].split(",").index("person.discomfort.neck")] = "secret"
    path = tmp_path / "people.csv"
    path.write_text("\n".join([*lines, ",".join(bad)]) + "\n", encoding="utf-8")
    arguments = [str(path), "--fund", "20", "--prices", str(room / "prices.csv")]
    refused = run(*arguments, "--out", str(tmp_path / "none"))
    assert refused.exit_code == 2
    assert f"{path}:5: id" in refused.stderr
    assert f"{path}:5: person.discomfort.neck" in refused.stderr
    assert not (tmp_path / "none").exists()
    kept = run(*arguments, "--skip-invalid", "--out", str(tmp_path / "out"))
    assert kept.exit_code == 0
    assert "1 row is set aside" in kept.stderr
    rows = table(tmp_path / "out" / "rejected.csv")
    assert [(row["row"], row["id"], row["column"]) for row in rows] == [
        ("5", "'=cmd", "id"),
        ("5", "'=cmd", "person.discomfort.neck"),
    ]
    assert "secret" not in (tmp_path / "out" / "rejected.csv").read_text(encoding="utf-8")
    assert json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))["rejected"] == 1


def test_a_group_of_which_every_row_is_set_aside_keeps_its_part(room: Path, tmp_path: Path) -> None:
    lines = lines_of("ana-01", "cora-03").splitlines()
    head = lines[1].split(",")
    bad = lines[-1].split(",")
    bad[head.index("id")], bad[head.index("group")] = "dan-04", "clinic"
    bad[head.index("person.discomfort.neck")] = "11"
    path = tmp_path / "people.csv"
    path.write_text("\n".join([*lines, ",".join(bad)]) + "\n", encoding="utf-8")
    prices = ["--prices", str(room / "prices.csv")]
    arguments = [str(path), *prices, "--fund", "40", "--skip-invalid"]
    alone = run(*arguments, "--fund", "20", "--out", str(tmp_path / "alone"))
    shared = run(*arguments, "--group-share", "clinic=0.5", "--out", str(tmp_path / "shared"))
    assert (alone.exit_code, shared.exit_code) == (0, 0), shared.stderr
    assert "every row of clinic is set aside: what is kept for it and not spent stays" in " ".join(
        shared.output.split()
    )
    for name in ("allocation.csv", "purchase_order.csv"):
        assert (tmp_path / "shared" / name).read_bytes() == (tmp_path / "alone" / name).read_bytes()
    capped = run(*arguments, "--group-cap", "clinic=5", "--out", str(tmp_path / "capped"))
    assert capped.exit_code == 0, capped.stderr
    assert "every row of clinic is set aside: nobody is there for its cap" in " ".join(capped.output.split())
    unknown = run(*arguments, "--group-share", "clinics=0.5", "--out", str(tmp_path / "none"))
    assert (unknown.exit_code, "did you mean clinic?" in unknown.stderr) == (2, True)
    assert run("--check", str(tmp_path / "shared")).exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "--fund"),
        (["--fund", "-5"], "--fund"),
        (["--fund", "1.234"], "--fund"),
        (["--fund", "10", "--policy", "most_reliefs"], "did you mean most_relief?"),
        (["--fund", "10", "--policy", "most_people"], "--limit"),
        (["--fund", "10", "--limit", "rosa=4"], "--limit"),
        (["--fund", "10", "--policy", "most_people", "--limit", "rosa=40"], "--limit"),
        (["--fund", "10", "--policy", "most_people", "--limit", "neck=1"], "strain, rula, rosa"),
        (["--fund", "10", "--cap", "5", "--floor", "6"], "at most the cap"),
        (["--fund", "10", "--group-share", "shop"], "--group-share"),
        (["--fund", "10", "--group-share", "shop=0.7", "--group-share", "home=0.4"], "add up to at most 1"),
        (["--fund", "10", "--group-share", "scool=0.5"], "did you mean school?"),
        (["--fund", "10", "--group-cap", "scool=5"], "did you mean school?"),
        (["--fund", "10", "--group-cap", "school"], "--group-cap"),
        (["--fund", "10", "--group-cap", "school=5", "--group-cap", "school=6"], "each group once"),
        (["--fund", "10", "--already", "nowhere.csv"], "no such file"),
    ],
)
def test_wishes_that_mean_nothing_are_faults(
    arguments: list[str], words: str, room: Path, tmp_path: Path
) -> None:
    result = run(str(room / "people.csv"), *arguments, "--out", str(tmp_path / "out"))
    assert result.exit_code == 2, result.stdout
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_holds_something_is_refused_before_any_work(
    room: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("deskmend.grants.engine.share.share", None)
    (tmp_path / "kept.txt").write_text("mine")
    for place in (tmp_path, tmp_path / "kept.txt", tmp_path / "none" / "deeper"):
        result = run(str(room / "people.csv"), "--fund", "10", "--out", str(place))
        assert (result.exit_code, "--out" in result.stderr) == (2, True)
    assert (tmp_path / "kept.txt").read_text() == "mine"


def test_an_empty_folder_is_filled(room: Path, tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    path.write_text(lines_of("ana-01", "cora-03"), encoding="utf-8")
    (tmp_path / "out").mkdir()
    arguments = ["--fund", "0", "--prices", str(room / "prices.csv"), "--out", str(tmp_path / "out")]
    assert run(str(path), *arguments).exit_code == 0
    assert table(tmp_path / "out" / "allocation.csv") == []
    assert {row["cost"] for row in table(tmp_path / "out" / "people.csv")} == {"0.00"}


def test_faults_of_what_was_given_before_are_told_with_their_lines(room: Path, tmp_path: Path) -> None:
    given = tmp_path / "allocation.csv"
    given.write_text("id,item,packs,cost\nana-01,tape,0,2.10\n../x,tapes,1,2\nana-01,tape,1,free\n")
    arguments = ["--fund", "10", "--already", str(given), "--out", str(tmp_path / "out")]
    result = run(str(room / "people.csv"), *arguments)
    assert result.exit_code == 2
    assert [line.split(": ")[:2] for line in result.stderr.splitlines()] == [
        [f"{given}:2", "packs"],
        [f"{given}:3", "id"],
        [f"{given}:3", "item"],
        [f"{given}:4", "cost"],
    ]
    given.write_text("id,item,packs,cost\nana-01,tape,1,2.10\n")
    result = run(str(room / "people.csv"), "--fund", "2", *arguments[2:])
    assert (result.exit_code, "which was given before" in result.stderr) == (2, True)


def test_mixed_currencies_are_a_fault(room: Path, tmp_path: Path) -> None:
    note, header, *rows = lines_of("ana-01", "cora-03").splitlines()
    path = tmp_path / "people.csv"
    text = [note, f"{header},means.currency", f"{rows[0]},EUR", f"{rows[1]},USD"]
    path.write_text("\n".join(text) + "\n", encoding="utf-8")
    arguments = ["--fund", "5", "--prices", str(room / "prices.csv"), "--out", str(tmp_path / "out")]
    result = run(str(path), *arguments)
    assert result.exit_code == 2
    assert 'means.currency: read "USD"; allowed EUR' in result.stderr


@pytest.mark.parametrize(
    ("status", "words"),
    [
        pytest.param("infeasible", "cannot all be kept", marks=pytest.mark.thorough),
        ("not_proven", "was found"),
    ],
)
def test_a_floor_for_which_nothing_was_found_is_said_and_nothing_written(
    room: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, status: SharingStatus, words: str
) -> None:
    nothing = Allocation("most_relief", status, {}, (), 0, 0, 10**9, 0)
    monkeypatch.setattr("deskmend.grants.engine.share.share", lambda *_, **__: nothing)
    result = run(str(room / "people.csv"), "--fund", "9", "--floor", "3", "--out", str(tmp_path / "out"))
    assert (result.exit_code, words in result.stderr, "--floor" in result.stderr) == (1, True, True)
    assert not (tmp_path / "out").exists()


def test_an_interrupt_gives_the_best_so_far_with_its_bound(
    room: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: Any) -> Mapping[str, Any]:
        raise KeyboardInterrupt

    monkeypatch.setattr(People, "every", interrupted)
    monkeypatch.setattr(People, "best", interrupted)
    result = run(str(room / "people.csv"), "--fund", "40", "--out", str(tmp_path / "out"))
    assert result.exit_code == 3, result.stderr
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["status"] == "not_proven"
    assert summary["bound"] >= summary["relief"] >= 0


@pytest.mark.thorough
def test_the_python_call_gives_what_the_command_writes(done: tuple[Result, Path], room: Path) -> None:
    _, out = done
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    people = deskmend.load_applicants(room / "people.csv", CATALOG)
    shared = deskmend.allocate(people, CATALOG, PRICES, fund="40.00")
    assert shared.allocation.relief / 1e9 == summary["relief"]
    assert f"{shared.spent / 100:.2f}" == summary["spent"]
    with pytest.raises(InputFaults, match="--limit"):
        deskmend.allocate(people, CATALOG, PRICES, fund=40, policy="most_people")
    with pytest.raises(TypeError, match="money is a text"):
        deskmend.allocate(people, CATALOG, PRICES, fund=40.0)  # type: ignore[arg-type]


@pytest.mark.thorough
def test_policies_and_rules_reach_the_engine(room: Path) -> None:
    people = deskmend.load_applicants(room / "people.csv", CATALOG)
    most = deskmend.allocate(people, CATALOG, PRICES, fund="40.00")

    def left(shared: Any) -> list[int]:
        return sorted((plan.strain_after for plan in shared.plans.values()), reverse=True)

    worst = deskmend.allocate(people, CATALOG, PRICES, fund="40.00", policy="worst_off_first")
    assert left(worst) <= left(most)
    assert worst.allocation.weighted_relief <= most.allocation.relief == worst.allocation.most_relief
    many = deskmend.allocate(people, CATALOG, PRICES, fund=40, policy="most_people", limit={"strain": "8"})
    under = [plan for plan in many.plans.values() if plan.strain_free > 8_000_000 >= plan.strain_after]
    assert many.allocation.relief == len(under)
    capped = deskmend.allocate(people, CATALOG, PRICES, fund=40, cap="5.00")
    assert max(plan.bill.total for plan in capped.plans.values()) <= 500
    with pytest.raises(NoPlan, match="floor"):
        deskmend.allocate(people, CATALOG, PRICES, fund=10, floor="9.00")


@pytest.mark.thorough
def test_the_shipped_fund_is_shared_end_to_end_with_processes(tmp_path: Path) -> None:
    """24 people, bulk prices and scarce things: exact, since so few ask."""
    result = run(str(TABLE), "--fund", "400", "--json", "--out", str(tmp_path / "out"))
    assert result.exit_code == 0, result.stderr
    summary = json.loads(result.stdout)
    assert (summary["status"], summary["gap"], summary["people"]) == ("optimal", 0.0, 24)
    assert summary["served"] + summary["waiting"] <= 24
    waiting = table(tmp_path / "out" / "waiting.csv")
    assert len(waiting) == sum(summary["not_given"].values()) == 24 - summary["served"]
    assert sum(row["reason"] != "no_help" for row in waiting) == summary["waiting"] > 0
    more = summary["more_money"]
    assert 0 < more["at_least"] <= more["at_most"]
    order = {line["item"]: int(line["packs"]) for line in table(tmp_path / "out" / "purchase_order.csv")}
    assert order.get("footrest", 0) <= 4
    assert sum(Decimal(row["cost"]) for row in table(tmp_path / "out" / "people.csv")) == Decimal(
        summary["spent"]
    )
