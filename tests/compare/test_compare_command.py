"""``compare`` on the command line: documents, pages, drawings and endings."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result
from PIL import Image, ImageColor

from deskmend.cli import deskmend

from .frontiers import ROOT, usual

CASE = str(ROOT / "scenarios" / "counter_calls" / "case.yaml")


def run(*arguments: str) -> Result:
    return CliRunner().invoke(deskmend, ["compare", *arguments])


@pytest.fixture(scope="module")
def whole() -> Result:
    return run(CASE, "--json")


def test_document_has_the_keys_of_the_contract(whole: Result) -> None:
    assert whole.exit_code == 0, whole.stderr
    document = json.loads(whole.stdout)
    assert document["format"] == "deskmend-comparison/1"
    for rung, known in zip(document["rungs"], usual("counter_calls").rungs, strict=True):
        assert {"cost", "strain", "minutes", "fixes", "with"} <= rung.keys()
        assert rung["cost"] == f"{known.cost / 100:.2f}"
        assert rung["strain"] == known.strain / 1_000_000
        assert len(rung["fixes"]) == len(rung["with"])
    assert document["knee"] in [rung["cost"] for rung in document["rungs"]]


def test_with_names_of_a_rung_give_its_strain_and_cost_to_the_last_digit(whole: Result) -> None:
    for rung in json.loads(whole.stdout)["rungs"][::3]:
        names = [word for name in rung["with"] for word in ("--with", name)]
        told = CliRunner().invoke(deskmend, ["assess", CASE, "--json", *names])
        document = json.loads(told.stdout)
        assert document["strain"]["total"] == rung["strain"]
        assert document["cost"] == rung["cost"]


def test_same_bytes_twice_and_on_the_drawing_too(whole: Result, tmp_path: Path) -> None:
    files = [tmp_path / "one.svg", tmp_path / "two.svg"]
    again = [run(CASE, "--json", "--plot", str(file)) for file in files]
    assert {result.stdout for result in again} == {whole.stdout}
    assert files[0].read_bytes() == files[1].read_bytes()


def test_drawing_is_sound_and_holds_a_dot_a_plan(tmp_path: Path) -> None:
    file = tmp_path / "curve.SVG"
    case = tmp_path / "case.yaml"
    text = Path(CASE).read_text(encoding="utf-8").replace("title: ", "title: <b>&\"' ", 1)
    case.write_text(text, encoding="utf-8")
    prices = str(Path(CASE).with_name("prices.csv"))
    result = run(str(case), "--prices", prices, "--plot", str(file))
    assert result.exit_code == 0, result.stderr
    tree = ElementTree.parse(file)
    dots = [one for one in tree.iter() if one.tag.endswith("circle")]
    assert len(dots) == len(usual("counter_calls").rungs)
    heights = [float(dot.attrib["cy"]) for dot in dots]
    places = [float(dot.attrib["cx"]) for dot in dots]
    assert heights == sorted(heights)
    assert places == sorted(places)


def test_picture_holds_the_dots_of_the_drawing(tmp_path: Path) -> None:
    """Where the SVG has the middle of a dot, the PNG of twice the size has its colour."""
    files = tmp_path / "curve.svg", tmp_path / "curve.png"
    for file in files:
        assert run(CASE, "--at", "0,5,20", "--plot", str(file)).exit_code == 0
    picture = Image.open(files[1])
    assert picture.format == "PNG"
    assert picture.size == (1440, 880)
    dots = [one for one in ElementTree.parse(files[0]).iter() if one.tag.endswith("circle")]
    assert len(dots) == 3
    for dot in dots:
        middle = picture.getpixel((round(float(dot.attrib["cx"]) * 2), round(float(dot.attrib["cy"]) * 2)))
        assert middle == ImageColor.getrgb(dot.attrib["fill"])


def test_page_tells_every_rung_and_fits_the_width() -> None:
    page = run(CASE).stdout
    assert max(map(len, page.splitlines())) <= 80
    assert page.isascii()
    for rung in usual("counter_calls").rungs:
        assert f"{rung.cost / 100:.2f} EUR, strain " in page
    places = [
        page.index(h) for h in ("Strain now", "Every budget", "Where more money", "What changes", "Proven")
    ]
    assert places == sorted(places)


def test_budgets_side_by_side_by_region_and_score() -> None:
    result = run(CASE, "--at", "20,0,35.50")
    assert result.exit_code == 0, result.stderr
    page = result.stdout
    assert "0.00  20.00  35.50" in " ".join(page.split()).replace(" ", "  ")
    for word in ("neck", "RULA, worst posture", "ROSA, worst task"):
        assert word in page
    document = json.loads(run(CASE, "--at", "20,0,35.50", "--json").stdout)
    assert [one["budget"] for one in document["at"]] == ["0.00", "20.00", "35.50"]
    assert all(float(one["cost"]) <= float(one["budget"]) for one in document["at"])


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--at", "0,x,1.005"], ['"x"', '"1.005"']),
        (["--at", ""], ["--at"]),
        (["--at", ",".join("1" * 101)], ["at most 100"]),
        (["--plot", "curve.pdf"], [".svg", ".png"]),
    ],
)
def test_bad_options_are_told_all_at_once(arguments: list[str], told: list[str]) -> None:
    result = run(CASE, *arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert all(text in result.stderr for text in told)


def test_a_drawing_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    result = run(CASE, "--at", "0", "--plot", str(tmp_path / "none" / "curve.svg"))
    assert result.exit_code == 2
    assert "cannot be written" in result.stderr


def test_the_mark_where_more_buys_less_is_labelled(tmp_path: Path) -> None:
    file = tmp_path / "curve.svg"
    assert run(CASE, "--plot", str(file)).exit_code == 0
    texts = [one.text or "" for one in ElementTree.parse(file).iter() if one.tag.endswith("text")]
    knee = usual("counter_calls").knee
    assert knee is not None
    assert f"{knee.cost / 100:.2f} EUR: more buys less from here" in texts


def test_between_budgets_asked_for_nothing_is_drawn(tmp_path: Path) -> None:
    """Each plan has a dot at its cost and at most one level line, from there to the budget."""
    file = tmp_path / "curve.svg"
    assert run(CASE, "--at", "0,9,21", "--plot", str(file)).exit_code == 0
    tree = ElementTree.parse(file)
    dots = {
        (one.attrib["cx"], one.attrib["cy"]) for one in tree.iter() if one.tag.rpartition("}")[2] == "circle"
    }
    lines = [one.attrib["d"].split() for one in tree.iter() if one.attrib.get("stroke-width") == "2"]
    assert lines
    for line in lines:
        (start, height, end, level) = [word.lstrip("ML") for word in line]
        assert height == level
        assert float(start) < float(end)
        assert (start, height) in dots
