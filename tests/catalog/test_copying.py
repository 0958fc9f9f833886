"""A fix added by copying one: checked with the whole catalog, shown, and written only where all is sound."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from deskmend.cli import deskmend
from deskmend.intake.catalog import load_catalog

from .small_catalog import write


def copy(*arguments: object) -> Result:
    return CliRunner().invoke(deskmend, ["catalog", *map(str, arguments)])


def test_a_copy_is_checked_and_shown(tmp_path: Path) -> None:
    small, own = write(tmp_path / "small"), tmp_path / "own"
    shown = copy(
        "crate_feet", "--copy-as", "low_crate", "--title", "Low crate", "--into", own, "--catalog", small
    )
    assert (shown.exit_code, shown.stderr) == (0, "")
    assert "Low crate" in shown.stdout
    mine = load_catalog(own)
    first, other = mine.by_id["crate_feet"], mine.by_id["low_crate"]
    assert other.title == "Low crate"
    assert other.model_copy(update={"id": first.id, "title": first.title}) == first
    assert CliRunner().invoke(deskmend, ["check", str(own)]).exit_code == 0
    document = json.loads(copy("low_crate", "--catalog", own, "--json").stdout)
    assert [fix["decision"] for fix in document["fixes"]] == [first.decision]
    again = copy("bell", "--copy-as", "gong", "--into", own, "--catalog", own)
    assert again.exit_code == 0, again.stderr
    assert set(load_catalog(own).by_id) == {"crate_feet", "bell", "low_crate", "gong"}


def test_the_shipped_catalog_can_be_begun_from(tmp_path: Path) -> None:
    own = tmp_path / "own"
    assert copy("seat_cushion", "--copy-as", "my_cushion", "--into", own).exit_code == 0
    mine, shipped = load_catalog(own), load_catalog()
    assert set(mine.by_id) - set(shipped.by_id) == {"my_cushion"}
    assert mine.by_id["my_cushion"].how == shipped.by_id["seat_cushion"].how
    assert (own / "prices" / "sample_eur.csv").is_file()


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (["crate_feet", "--copy-as", "bell", "--into", "own"], "a name that no fix of the catalog has"),
        (["crate_feet", "--copy-as", "a b", "--into", "own"], "a letter or digit"),
        (["crate_feet", "--copy-as", "low_crate"], "FIX, --copy-as NAME and --into DIR together"),
        (["--copy-as", "low_crate", "--into", "own"], "FIX, --copy-as NAME and --into DIR together"),
        (["crate_fet", "--copy-as", "low_crate", "--into", "own"], "did you mean crate_feet?"),
        (
            ["crate_feet", "--copy-as", "low_crate", "--title", "x" * 200, "--into", "own"],
            "own/fixes/low_crate.yaml",
        ),
    ],
)
def test_what_cannot_be_copied_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], fault: str
) -> None:
    write(tmp_path / "small")
    monkeypatch.chdir(tmp_path)
    result = copy(*arguments, "--catalog", "small")
    assert result.exit_code == 2
    assert fault in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["small"]
