"""A catalog of a user's own works without code; a broken one tells every fault, with file and line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend

from .small_catalog import PARTS, write

ROOT = Path(__file__).resolve().parents[2]
CASE = str(ROOT / "scenarios" / "kitchen_books" / "case.yaml")


def run(*arguments: str) -> Result:
    return CliRunner().invoke(deskmend, list(arguments))


def faults(folder: Path) -> list[str]:
    result = run("check", str(folder))
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    return result.stdout.splitlines()


def line_of(file: str, text: str) -> int:
    return next(n for n, line in enumerate(PARTS[file].splitlines(), start=1) if text in line)


def test_a_good_catalog_of_ones_own_plans_without_code(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine")
    assert run("check", str(folder)).exit_code == 0
    case = tmp_path / "case.yaml"
    text = Path(CASE).read_text(encoding="utf-8")
    start = text.index("owns:")
    case.write_text(text[:start] + text[text.index("means:") :], encoding="utf-8")
    prices = str(folder / "prices.csv")
    result = run("plan", str(case), "--catalog", str(folder), "--prices", prices, "--json")
    assert result.exit_code == 0, result.output
    plan = json.loads(result.stdout)
    assert {step["fix"] for step in plan["steps"]} == {"crate_feet", "bell"}
    assert plan["cost"] == "2.00"
    assert plan["advice"] == []
    listed = json.loads(run("catalog", "--catalog", str(folder), "--json").stdout)
    assert [one["id"] for one in listed["fixes"]] == ["crate_feet", "bell"]


ONE_FAULT = {
    "unknown field": ("change: feet.height", "change: feet.heigth", "feet.height"),
    "unknown key": ("    minutes: 5", "    minuten: 5", "minutes"),
    "unknown item": ("item: crate", "item: crates", "crate"),
    "unknown source": ("source: own_eyes", "source: own_eye", "own_eyes"),
    "size out of range": ("high: 120", "high: 920", "0 to 800 mm"),
    "word out of range": ("feet.on, set: other", "feet.on, set: othr", "other"),
    "missing evidence": (
        "evidence: [{source: own_eyes, finding: No study was found., grade: D, tested: none}]",
        "evidence: []",
        "evidence",
    ),
    "missing steps": ('    how: ["Put the crate under the feet, {size} mm high."]\n', "", "the steps"),
    "no effect at all": (
        """    effects:
      - {change: feet.height, set: size}
      - {change: feet.rest, set: yes}
      - {change: feet.on, set: other}
""",
        "    effects: []\n",
        "advice.yaml",
    ),
    "bad predicate": (
        "    minutes: 5",
        "    minutes: 5\n    needs: [{all: [desk.legs are fixed], why: So it is.}]",
        "NAME is WORD",
    ),
    "unknown quantity": (
        "    minutes: 5",
        "    minutes: 5\n    needs: [{all: [leg_gab at most 10], why: So it is.}]",
        "leg_gap",
    ),
    "its own rule undone": (
        "    minutes: 5",
        "    minutes: 5\n    needs: [{all: [feet.rest is no], why: So it is.}]",
        "does not undo",
    ),
    "rules that contradict": (
        "    minutes: 5",
        "    minutes: 5\n    needs: [{all: [desk.height at least 700, desk.height at most 600], why: No.}]",
        "other end",
    ),
    "hostile text": ("title: Crate under the feet", 'title: "Crate \\e[2J under the feet"', "title"),
    "nonsense number": ("low: 40", "low: many", "low"),
}


@pytest.mark.parametrize("name", ONE_FAULT)
def test_each_fault_is_told_with_file_line_and_what_is_allowed(tmp_path: Path, name: str) -> None:
    old, new, told = ONE_FAULT[name]
    folder = write(tmp_path / "mine", fixes_own=(old, new))
    found = faults(folder)
    assert any(told in line for line in found), found
    assert all(f"{folder}/fixes/own.yaml:" in line for line in found), found
    lines = [int(line.split("own.yaml:")[1].split(":")[0]) for line in found]
    assert all(1 <= number <= 30 for number in lines)
    assert "\x1b" not in "".join(found)


def test_the_line_is_that_of_the_fix(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine", fixes_own=("change: feet.height", "change: feet.heigth"))
    assert f"own.yaml:{line_of('fixes/own.yaml', 'id: crate_feet')}:" in faults(folder)[0]


def test_faults_of_several_files_come_at_once(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "mine",
        fixes_own=("change: feet.height", "change: feet.heigth"),
        fixes_second=("scope: person", "scope: persons"),
        items=("unit: piece", "unit: bucket"),
        screening=("urgency: soon", "urgency: later"),
    )
    told = "\n".join(faults(folder))
    for file in ("fixes/second.yaml", "items.yaml", "screening.yaml"):
        assert file in told
    folder = write(
        tmp_path / "two",
        fixes_own=("change: feet.height", "change: feet.heigth"),
        fixes_second=("scope: person", "scope: persons"),
    )
    told = "\n".join(faults(folder))
    assert "fixes/own.yaml" in told
    assert "fixes/second.yaml" in told


def test_one_id_in_two_files_is_told(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine", fixes_second=("id: bell", "id: crate_feet"))
    found = faults(folder)
    assert any("fixes/own.yaml:3 has it already" in line for line in found), found


def test_one_decision_with_two_scopes_is_told(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine", fixes_second=("decision: breaks", "decision: feet"))
    assert any("crate_feet of the same decision" in line for line in faults(folder))


def test_fixes_that_wait_for_each_other_are_told(tmp_path: Path) -> None:
    """Each needs the word that only the other sets: neither could ever come first."""
    folder = write(
        tmp_path / "mine",
        fixes_own=("    minutes: 5", "    minutes: 5\n    needs: [{all: [phone is headset], why: First.}]"),
        fixes_second=(
            "effects: [{change: task.spell, at_most: 30}]",
            "effects: [{change: phone, set: headset}]\n    needs: [{all: [feet.on is other], why: First.}]",
        ),
    )
    found = faults(folder)
    assert [line for line in found if "round" in line]


def test_an_item_without_a_unit_counts_pieces_and_a_wrong_one_is_refused(tmp_path: Path) -> None:
    assert run("check", str(write(tmp_path / "a", items=(", unit: piece", "")))).exit_code == 0
    assert any("piece" in line for line in faults(write(tmp_path / "b", items=("unit: piece", "unit: lump"))))


def test_advice_without_evidence_is_told(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine")
    (folder / "advice.yaml").write_text(
        "format: deskmend-advice/1\nadvice:\n  - {id: walk, title: A walk, how: [Walk.], evidence: []}\n",
        encoding="utf-8",
    )
    found = faults(folder)
    assert any("advice.yaml:3" in line and "evidence" in line for line in found), found


@pytest.mark.parametrize(("file", "start"), [("items", "  - {id: crate"), ("sources", "  - {key: own_eyes")])
def test_an_id_written_twice_is_told_with_the_line_of_the_second(
    tmp_path: Path, file: str, start: str
) -> None:
    line = next(one for one in PARTS[f"{file}.yaml"].splitlines() if one.startswith(start))
    folder = write(tmp_path / "mine", **{file: (line, f"{line}\n{line}")})
    assert any(f"{file}.yaml:4: " in told and "an id of its own" in told for told in faults(folder))
