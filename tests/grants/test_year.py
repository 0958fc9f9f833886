"""A fund that goes on for a year: four rounds of the scenario, and what happens between them."""

from __future__ import annotations

import csv
import json
from collections import Counter
from decimal import Decimal
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend as program
from deskmend.intake.ledger import load_ledger, state_of_ledger
from deskmend.report.decision import sealed

YEAR = Path(__file__).resolve().parents[2] / "scenarios" / "relief_year"
ROUNDS = (
    ("round_1.csv", "prices_spring.csv", "30", "2027-01-15"),
    ("round_2.csv", "prices_spring.csv", "70", "2027-04-15"),
    ("round_3.csv", "prices_autumn.csv", "90", "2027-07-15"),
    ("round_4.csv", "prices_autumn.csv", "110", "2027-10-15"),
)

LETTERS_IN = 3
"""Round whose people are written to."""
SENDER = "format: deskmend-sender/1\nname: Relief office\naddress: [1 Mill Lane]\ncontact: Ada, 555 0100\n"

Rows = list[dict[str, str]]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(program, ["allocate", *arguments])


def rows(path: Path) -> Rows:
    """Rows of a table below the notes above its header."""
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


def whole_year(folder: Path) -> Path:
    """All rounds and their ledger, written into a folder."""
    ledger = str(folder / "ledger.jsonl")
    sender = folder / "sender.yaml"
    sender.write_text(SENDER, encoding="utf-8")
    for number, (table, prices, fund, day) in enumerate(ROUNDS, start=1):
        shared = run(
            *(str(YEAR / table), "--prices", str(YEAR / prices), "--fund", fund, "--today", day),
            *("--ledger", ledger, "--out", str(folder / f"round_{number}"), "--quiet"),
            *(("--letters", "--sender", str(sender)) if number == LETTERS_IN else ()),
        )
        assert shared.exit_code == 0, shared.output
        entries = YEAR / f"entries_{number}.csv"
        if entries.exists():
            added = run("--entries", str(entries), "--ledger", ledger)
            assert added.exit_code == 0, added.output
    return folder


MADE: list[Path] = []


@pytest.fixture
def year(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of all rounds and their ledger, made once for all; nothing is written into it."""
    if not MADE:
        MADE.append(whole_year(tmp_path_factory.mktemp("year")))
    return MADE[0]


def summary(year: Path, number: int) -> dict[str, str]:
    read: dict[str, str] = json.loads((year / f"round_{number}" / "summary.json").read_bytes())
    return read


def test_the_year_adds_up_to_the_last_cent(year: Path) -> None:
    ledger = load_ledger(year / "ledger.jsonl")
    state = state_of_ledger(ledger)
    ordered = Decimal(0)
    for number in range(1, 5):
        folder = year / f"round_{number}"
        new = sum((Decimal(row["cost"]) for row in rows(folder / "purchase_order.csv")), Decimal(0))
        told = summary(year, number)
        assert Decimal(told["spent"]) - Decimal(told["already"]) == new
        assert Decimal(told["spent"]) + Decimal(told["left"]) == Decimal(told["fund"])
        ordered += new
    entries = [row for number in (2, 3) for row in rows(YEAR / f"entries_{number}.csv")]
    refunds = sum((Decimal(row["amount"]) for row in entries if row["entry"] == "refund"), Decimal(0))
    paid = sum((Decimal(row["amount"]) for row in entries if row["entry"] == "paid"), Decimal(0))
    assert Decimal(state.spent) / 100 == ordered - refunds + paid == Decimal(summary(year, 4)["spent"])
    gifts = sum(Decimal(row["cost"]) for row in rows(year / "round_4" / "allocation.csv"))
    assert gifts == ordered
    # every unit that was ordered lies in store, is with somebody, was cut, or was lost
    units: Counter[str] = Counter()
    for one in ledger.counted:
        if one.entry == "order":
            units[one.item] += one.packs * one.pack
        elif one.entry == "bought":
            units[one.item] += one.units
        elif one.entry == "made":
            units[one.item] -= one.units - one.own
        elif one.entry == "lost" and not one.step:
            units[one.item] -= one.units
    there: Counter[str] = Counter()
    for (_, item, _), count in state.held.items():
        there[item] += count
    for (item, _), count in state.store.items():
        there[item] += count
    assert +units == +there


def test_the_table_in_the_docs_is_that_of_the_year(year: Path) -> None:
    text = (YEAR.parents[1] / "docs" / "grants.md").read_text(encoding="utf-8")
    for number, (_, _, fund, _) in enumerate(ROUNDS, start=1):
        told = summary(year, number)
        new = Decimal(told["spent"]) - Decimal(told["already"])
        line = f"| {number} | {Decimal(fund):.2f} | {told['already']} | {new:.2f} | {told['left']} |"
        assert line in text, line


def test_what_came_back_is_used_first_and_what_is_gone_from_the_table_is_had_from_the_store(
    year: Path,
) -> None:
    """The stand is not for sale in autumn; one came back in May."""
    assert "screen_stand" not in (YEAR / "prices_autumn.csv").read_text(encoding="utf-8")
    before = {row["id"]: row for row in rows(year / "round_2" / "allocation.csv") if row["id"] == "hana-08"}
    after = {row["item"]: row for row in rows(year / "round_3" / "allocation.csv") if row["id"] == "hana-08"}
    assert before == {}
    assert after["screen_stand"]["cost"] == "0.00"
    assert "screen_stand" not in {row["item"] for row in rows(year / "round_3" / "purchase_order.csv")}


def test_sizes_stay_and_cut_things_stay_cut(year: Path) -> None:
    for number in (2, 3, 4):
        had, now = (
            {row["id"]: row for row in rows(year / f"round_{k}" / "people.csv")} for k in (number - 1, number)
        )
        for name in had.keys() & now.keys():
            # nobody is worse off with what is free than with what they were left with before
            lost = (number, name) == (4, "hana-08")
            assert lost or Decimal(now[name]["strain_free"]) <= Decimal(had[name]["strain_after"]), name
    state = state_of_ledger(load_ledger(year / "ledger.jsonl"))
    steps = [one for one in load_ledger(year / "ledger.jsonl").entries if one.entry == "made"]
    assert steps
    assert all(len(set(made)) == len(made) for made in state.made.values())


def test_undo_takes_the_last_round_back_and_nothing_else(year: Path, tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.jsonl"
    text = (year / "ledger.jsonl").read_text(encoding="utf-8")
    ledger.write_text(text, encoding="utf-8")
    three = state_of_ledger(load_ledger(ledger)).spent
    undone = run("--undo", "--ledger", str(ledger))
    assert undone.exit_code == 0, undone.output
    now = ledger.read_text(encoding="utf-8")
    assert now.startswith(text)
    assert now.count("\n") == text.count("\n") + 1
    four = Decimal(summary(year, 4)["spent"]) - Decimal(summary(year, 4)["already"])
    assert three - state_of_ledger(load_ledger(ledger)).spent == four * 100
    # the third round cannot be taken back: what it gave was lost since
    refused = run("--undo", "--ledger", str(ledger))
    assert refused.exit_code == 2
    assert ledger.read_text(encoding="utf-8") == now


def test_a_person_struck_out_is_nowhere_and_all_sums_stay(year: Path, tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.jsonl"
    ledger.write_bytes((year / "ledger.jsonl").read_bytes())
    before = state_of_ledger(load_ledger(ledger))
    assert run("--strike", "cora-03", "--ledger", str(ledger)).exit_code == 0
    after = state_of_ledger(load_ledger(ledger))
    assert "cora-03" not in ledger.read_text(encoding="utf-8")
    assert (after.spent, after.store) == (before.spent, before.store)
    assert sum(after.paid_for.values()) == sum(before.paid_for.values())
    assert "struck-1" in {name for name, _, _ in after.packs}
    nobody = run("--strike", "cora-03", "--ledger", str(ledger))
    assert (nobody.exit_code, "--strike" in nobody.output) == (2, True)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("return,cora-03,desk_lamp,9", "at most"),
        ("return,cora-03,lamp,1", "an item of the catalog"),
        ("gift,cora-03,tape,1", "return, lost"),
        ("leave,cora-03,tape,", "nothing for leave"),
        ("return,,tape,1", "id"),
    ],
)
def test_entries_that_do_not_fit_are_told_by_their_line_and_nothing_is_written(
    year: Path, tmp_path: Path, row: str, words: str
) -> None:
    ledger, entries = tmp_path / "ledger.jsonl", tmp_path / "entries.csv"
    ledger.write_bytes((year / "ledger.jsonl").read_bytes())
    entries.write_text(f"entry,id,item,units\n{row}\n", encoding="utf-8")
    result = run("--entries", str(entries), "--ledger", str(ledger))
    assert result.exit_code == 2
    assert f"{entries}:2" in result.stderr
    assert words in result.stderr
    assert ledger.read_bytes() == (year / "ledger.jsonl").read_bytes()


def test_entries_are_taken_once(year: Path, tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.jsonl"
    ledger.write_bytes((year / "ledger.jsonl").read_bytes())
    again = run("--entries", str(YEAR / "entries_3.csv"), "--ledger", str(ledger))
    assert again.exit_code == 2
    assert "stands there already" in again.stderr


def test_check_confirms_every_round(year: Path) -> None:
    for number in range(1, 5):
        result = run("--check", str(year / f"round_{number}"))
        assert result.exit_code == 0, result.output
        assert "Confirmed" in result.output


def test_check_finds_each_of_fifty_changes(year: Path, tmp_path: Path) -> None:
    """One byte, one figure, a file more or less; and figures changed with their hashes made good again."""
    whole = tmp_path / "folder"
    copytree(year / "round_3", whole)
    files = sorted(path for path in whole.rglob("*") if path.is_file())
    found = 0
    for path in files:
        kept = path.read_bytes()
        for place in (0, len(kept) // 3, len(kept) // 2, 3 * len(kept) // 4, len(kept) - 2):
            path.write_bytes(kept[:place] + bytes([kept[place] ^ 1]) + kept[place + 1 :])
            assert run("--check", str(whole)).exit_code == 2, (path.name, place)
            found += 1
        path.unlink()
        assert run("--check", str(whole)).exit_code == 2, path.name
        path.write_bytes(kept)
        found += 1
    (whole / "extra.txt").write_text("x")
    assert run("--check", str(whole)).exit_code == 2
    (whole / "extra.txt").unlink()
    assert run("--check", str(whole)).exit_code == 0
    assert found >= 49 + 12 * len(summary_ids(year, 3))


def summary_ids(year: Path, number: int) -> list[str]:
    return [row["id"] for row in rows(year / f"round_{number}" / "people.csv")]


def test_check_with_the_ledger_finds_each_line_of_it_that_was_changed(year: Path, tmp_path: Path) -> None:
    """A line less, twice, or with another figure or name, up to the end of the round; later ones may come."""
    ledger = tmp_path / "ledger.jsonl"
    text = (year / "ledger.jsonl").read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    entries = [json.loads(line) for line in lines]
    last = max(number for number, one in enumerate(entries) if one.get("round") == 3)
    folder = str(year / "round_3")

    def confirmed(changed: list[str]) -> bool:
        ledger.write_text("".join(changed), encoding="utf-8")
        return run("--check", folder, "--ledger", str(ledger)).exit_code == 0

    assert confirmed(lines)
    assert confirmed(lines[: last + 1])
    for number in range(1, last + 1):
        before, after = lines[:number], lines[number + 1 :]
        assert not confirmed([*before, *after]), lines[number]
        assert not confirmed([*before, lines[number], lines[number], *after]), lines[number]
        for key, value in entries[number].items():
            if key == "entry":
                continue
            other = value + 1 if isinstance(value, int) else f"{value}1"
            told = json.dumps({**entries[number], key: other}, ensure_ascii=False) + "\n"
            assert not confirmed([*before, told, *after]), (key, lines[number])


def test_a_folder_whose_round_was_taken_back_is_of_no_round_of_the_ledger(year: Path, tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.jsonl"
    ledger.write_bytes((year / "ledger.jsonl").read_bytes())
    four = ("--check", str(year / "round_4"), "--ledger", str(ledger))
    assert run(*four).exit_code == 0
    assert run("--strike", "cora-03", "--ledger", str(ledger)).exit_code == 0
    assert run(*four).exit_code == 0
    assert run("--undo", "--ledger", str(ledger)).exit_code == 0
    refuted = run(*four)
    assert (refuted.exit_code, "no round that counts" in refuted.stderr) == (2, True)


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("purchase_order.csv", ("cost", "9.99")),
        ("people.csv", ("cost", "9.99")),
        ("people.csv", ("strain_after", "99.000000")),
        ("allocation.csv", ("cost", "9.99")),
        ("waiting.csv", ("id", "nobody")),
        ("summary.json", ("spent", "9.99")),
        ("summary.json", ("left", "9.99")),
        ("summary.json", ("people", 9)),
        ("summary.json", ("bound", 0)),
        ("summary.json", ("status", "within_gap")),
        ("decision.json", ("fund", "9.99")),
    ],
)
def test_figures_that_do_not_add_up_are_found_though_hashes_and_seal_were_made_good(
    year: Path, tmp_path: Path, name: str, change: tuple[str, object]
) -> None:
    from deskmend.intake.catalog import text_digest

    whole = tmp_path / "folder"
    copytree(year / "round_3", whole)
    path = whole / name
    key, value = change
    if name.endswith(".json"):
        document = json.loads(path.read_bytes())
        document[key] = value
        path.write_text(json.dumps(document), encoding="utf-8")
    else:
        table = rows(path)
        table[0][key] = str(value)
        with open(path, "w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(table[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(table)
    record = json.loads((whole / "decision.json").read_bytes())
    if name != "decision.json":
        record["files"][name] = text_digest(path.read_bytes())
    (whole / "decision.json").write_text(sealed(record), encoding="utf-8")
    result = run("--check", str(whole))
    assert result.exit_code == 2, (name, change)
    assert "does not add up" in result.stderr


@pytest.mark.parametrize("more", ["x\n", "x,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15\n"])
def test_a_row_that_is_not_whole_is_told_as_that_and_adds_up_to_nothing(
    year: Path, tmp_path: Path, more: str
) -> None:
    whole = tmp_path / "folder"
    copytree(year / "round_3", whole)
    with open(whole / "people.csv", "a", encoding="utf-8") as stream:
        stream.write(more)
    result = run("--check", str(whole))
    assert result.exit_code == 2
    assert "the row is not whole; allowed 13 cells, one for each column" in result.stderr
    assert "None" not in result.stderr
    assert "NaN" not in result.stderr


def test_the_ledger_holds_ids_things_and_money_and_is_for_its_owner_alone(year: Path) -> None:
    path = year / "ledger.jsonl"
    assert path.stat().st_mode & 0o777 == 0o600
    text = path.read_text(encoding="utf-8")
    assert all(word not in text for word in ("stature", "strain", "discomfort", "sign"))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--undo"], "--ledger FILE"),
        ([], "APPLICANTS"),
        (["--check", "nowhere"], "is no folder"),
        (["--undo", "--strike", "a", "--ledger", "x"], "one thing at a time"),
        (["people.csv", "--undo", "--ledger", "x"], "takes no applicants"),
        (["people.csv", "--ledger", "x", "--already", "y"], "knows all rounds"),
    ],
)
def test_what_goes_together_is_said(arguments: list[str], words: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert words in result.stderr
