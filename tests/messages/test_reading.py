"""The reader's language, decimal sign and unit of length reach every page, and change nothing else."""

from __future__ import annotations

import gettext
import json
import re
from datetime import date
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from babel.messages.pofile import read_po
from click.testing import CliRunner, Result
from tests.stages import NOW, some

from deskmend import language as messages
from deskmend.cli import deskmend
from deskmend.intake.catalog import load_catalog
from deskmend.language import LANGUAGES, measuring, shown_day, shown_length, shown_number

from .extract import read_messages

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = ROOT / "scenarios"
NAMES = sorted(path.parent.name for path in SCENARIOS.glob("*/case.yaml"))
CASE = str(SCENARIOS / "kitchen_books" / "case.yaml")
CODES = (
    "format",
    "fix",
    "with",
    "when",
    "kind",
    "unit",
    "currency",
    "cost",
    "source",
    "status",
    "engine",
    "item",
    "cause",
    "task",
    "place",
    "verdict",
    "grade",
)
"""Keys of documents whose values programs look at: the same in every language."""


def run(*arguments: str, **environment: str) -> Result:
    return CliRunner().invoke(deskmend, list(arguments), env=environment)


def test_decimal_sign_follows_the_language() -> None:
    assert shown_number("12.30") == "12.30"
    assert shown_day(date(2026, 3, 1)) == "2026-03-01"
    with messages.reading("es"):
        # The comma as decimal sign and the order of a date in Spanish: Unicode CLDR, locale es.
        assert shown_number("12.30") == "12,30"
        assert shown_number("-4") == "-4"
        assert shown_number("12345.6") == "12345,6"
        assert shown_day(date(2026, 3, 1)) == "1 de marzo de 2026"


def test_lengths_follow_the_unit_chosen() -> None:
    assert shown_length(1580.0) == "1580 mm"
    with measuring("in"):
        # 1 inch is 25.4 mm exactly: 1580 / 25.4 = 62.2047.
        assert shown_length(1580.0) == "62.2 in"
        with messages.reading("es"):
            assert shown_length(1580.0) == "62,2 in"
    assert shown_length(1580.0) == "1580 mm"
    with pytest.raises(ValueError, match="allowed mm, in"), measuring("ell"):
        pass


class Asked(gettext.NullTranslations):
    """Translations that note what they are asked for."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: set[str] = set()

    def gettext(self, message: str) -> str:
        self.texts.add(message)
        return message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        self.texts.add(msgid1)
        return super().ngettext(msgid1, msgid2, n)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> Asked:
    noted = Asked()
    monkeypatch.setattr(messages, "_translations", lambda language: noted)
    return noted


def known_texts() -> set[str]:
    return {m.id[0] if isinstance(m.id, tuple) else m.id for m in read_messages("es")}


@pytest.mark.parametrize("scenario", some(NAMES, "counter_calls", "tall_sofa"))
def test_assessments_say_nothing_untranslated(scenario: str, asked: Asked) -> None:
    case = str(SCENARIOS / scenario / "case.yaml")
    for more in ((), ("--json",)):
        assert run("assess", case, *more).exit_code == 0
    assert len(asked.texts) > 100
    assert sorted(asked.texts - known_texts()) == []


@pytest.mark.thorough
def test_plans_and_their_failures_say_nothing_untranslated(asked: Asked) -> None:
    for arguments, code in (
        (("plan", CASE), 0),
        (("plan", CASE, "--json"), 0),
        (("plan", CASE, "--reach", "rosa=1"), 1),
        (("plan", CASE, "--reach", "neck=0"), 1),
        (("plan", CASE, "--must", "screen_stand", "--budget", "0"), 1),
        (("plan", CASE, "--minutes", "0", "--budget", "0"), 0),
        (("compare", CASE, "--at", "0,20"), 0),
        (("prices", "new", "--for", CASE), 0),
    ):
        assert run(*arguments).exit_code == code, arguments
    assert sorted(asked.texts - known_texts()) == []


@pytest.mark.both
def test_the_page_and_the_empty_files_say_nothing_untranslated(asked: Asked, tmp_path: Path) -> None:
    at = () if NOW.thorough else ("--at", "0,10,40")
    assert run("report", CASE, "--out", str(tmp_path / "page.html"), *at).exit_code == 0
    assert run("new", str(tmp_path / "case.yaml"), "--blank").exit_code == 0
    assert run("new", "--applicants", str(tmp_path / "applicants.csv")).exit_code == 0
    assert run("check", CASE).exit_code == 0
    assert sorted(asked.texts - known_texts()) == []


def test_sharing_a_fund_says_nothing_untranslated(asked: Asked, tmp_path: Path) -> None:
    whole = (SCENARIOS / "relief_fund" / "applicants.csv").read_text(encoding="utf-8").splitlines()
    few = [line for line in whole if not line.startswith("#")][:3]
    table = tmp_path / "applicants.csv"
    table.write_text("\n".join(few) + "\n", encoding="utf-8")
    prices = str(SCENARIOS / "relief_fund" / "prices.csv")
    for fund in ("0.00", "40.00"):
        out = str(tmp_path / fund)
        done = run("allocate", str(table), "--fund", fund, "--prices", prices, "--letters", "--out", out)
        assert done.exit_code == 0, done.stderr
    assert sorted(asked.texts - known_texts()) == []


@pytest.mark.both
def test_the_catalog_says_nothing_untranslated(asked: Asked) -> None:
    catalog = load_catalog()
    assert run("catalog").exit_code == 0
    assert run("catalog", "--json").exit_code == 0
    shown = (*catalog.fixes, *catalog.advice)
    for one in shown if NOW.thorough else shown[::5]:
        assert run("catalog", one.id).exit_code == 0
    assert sorted(asked.texts - known_texts()) == []


@pytest.fixture(scope="module")
def plans() -> dict[str, Result]:
    return {
        "en": run("plan", CASE, "--steps"),
        "es": run("plan", CASE, "--steps", "--language", "es"),
        "in": run("plan", CASE, "--steps", "--units", "in"),
        "en json": run("plan", CASE, "--json"),
        "es json": run("plan", CASE, "--json", "--language", "es"),
    }


def test_a_plan_is_read_in_spanish(plans: dict[str, Result]) -> None:
    english, spanish = plans["en"].stdout, plans["es"].stdout
    assert "Hoy, sin gastar nada\n" in spanish
    assert "Today, for nothing" not in spanish
    strain = re.search(r"Strain: (\d+\.\d) strain-hours a day now", english)
    assert strain is not None
    assert f"Carga: {strain[1].replace('.', ',')} horas de carga al día ahora" in spanish
    assert "aviso: estimado a partir de la estatura" in plans["es"].stderr


def test_names_of_fixes_keep_their_digits(plans: dict[str, Result]) -> None:
    names = [re.findall(r"--with (\S+)", plans[key].stdout) for key in ("en", "es", "in")]
    assert names[0]
    assert names[0] == names[1] == names[2]


def test_lengths_are_read_in_inches(plans: dict[str, Result]) -> None:
    assert "1. Thick books under the feet: 80 mm (38 + 42)." in plans["en"].stdout
    # 80 / 25.4 = 3.15, 38 / 25.4 = 1.496, 42 / 25.4 = 1.654
    assert "1. Thick books under the feet: 3.1 in (1.5 + 1.7)." in plans["in"].stdout
    assert "Lay books on each other, 3.1 in thick in all" in " ".join(plans["in"].stdout.split())


def same(one: Any, other: Any, key: str = "") -> None:
    """Two documents hold the same keys, figures and codes; sentences may differ."""
    assert type(one) is type(other), key
    if isinstance(one, dict):
        assert list(one) == list(other)
        for name in one:
            same(one[name], other[name], name)
    elif isinstance(one, list):
        assert len(one) == len(other), key
        for first, second in zip(one, other, strict=True):
            same(first, second, key)
    elif not isinstance(one, str) or key in CODES:
        assert one == other, key


def test_documents_keep_keys_figures_and_codes(plans: dict[str, Result]) -> None:
    english, spanish = (json.loads(plans[key].stdout) for key in ("en json", "es json"))
    same(english, spanish)
    assert english["steps"][0]["how"] != spanish["steps"][0]["how"]
    assert english["steps"][0]["title"] != spanish["steps"][0]["title"]


def test_a_missing_plan_is_told_in_spanish() -> None:
    result = run("plan", CASE, "--reach", "rosa=1", "--language", "es")
    assert result.exit_code == 1
    assert result.stderr.splitlines()[-1].startswith("No hay plan: no se alcanza rosa=1")


def test_one_reading_leaves_nothing_behind() -> None:
    before = run("catalog")
    assert run("catalog", "--language", "es", "--units", "in").stdout != before.stdout
    assert run("catalog").stdout == before.stdout


def test_nothing_is_taken_from_the_machine() -> None:
    plain = run("catalog", "back_towel")
    for name in ("LANG", "LC_ALL", "LANGUAGE", "LC_NUMERIC"):
        assert run("catalog", "back_towel", **{name: "es_ES.UTF-8"}).stdout == plain.stdout


def test_other_languages_are_refused() -> None:
    result = run("catalog", "--language", "xx")
    assert result.exit_code == 2
    assert "--language" in result.stderr


@pytest.mark.parametrize("code", LANGUAGES[1:])
def test_a_message_catalog_says_what_a_library_for_such_files_reads_in_it(code: str) -> None:
    text = files("deskmend").joinpath("locale", f"{code}.po").read_bytes()
    ours = messages._translations(code)
    found = [one for one in read_po(BytesIO(text), locale=code) if one.id and one.string and not one.fuzzy]
    assert len(found) > 1000
    for one in found:
        if isinstance(one.id, str):
            assert ours.gettext(one.id) == one.string
        else:
            single, several = one.id
            assert [ours.ngettext(single, several, count) for count in (1, 0, 2, 5)] == [
                one.string[0],
                *[one.string[1]] * 3,
            ]
    assert ours.gettext("no sentence of ours") == "no sentence of ours"
    assert ours.ngettext("one of none", "several of none", 2) == "several of none"
