"""Shipped tables: read-only, complete, with a source; and what a broken one does."""

from types import SimpleNamespace

import numpy as np
import pytest

from deskmend.risk import ranges as score_tables
from deskmend.risk.scores import day as postural_classes
from deskmend.risk.scores import items as item_scores

TABLES = [f"rula_table_{x}" for x in "abc"] + [f"rosa_table_{x}" for x in "abcde"]


@pytest.mark.parametrize("name", TABLES)
def test_tables_are_read_once_and_cannot_be_changed(name):
    table = score_tables.score_table(name)
    assert table is score_tables.score_table(name)
    with pytest.raises(ValueError, match="read-only"):
        table.values[(0,) * table.values.ndim] = 9


@pytest.mark.parametrize("name", [*TABLES, "rula_items", "rosa_items", "postural_classes"])
def test_heads_name_source_and_status(name):
    head = score_tables.table_head(name)
    assert head["title"]
    assert head["source"]
    assert head["status"]


def _shipped(monkeypatch, module, rows, head=("title: t", "source: s", "status: judgement")):
    monkeypatch.setattr(score_tables, "read_table", lambda package, name: tuple(rows))
    monkeypatch.setattr(score_tables, "table_header", lambda package, name: tuple(head))
    return module


def test_a_missing_cell_and_a_double_cell_are_defects(monkeypatch):
    row = {"x": "1", "y=1": "1", "y=2": "2"}
    gap = [row, {**row, "x": "3"}]
    _shipped(monkeypatch, score_tables, gap)
    with pytest.raises(score_tables.TableDefect, match="2 cells are missing"):
        score_tables.score_table.__wrapped__("t")
    _shipped(monkeypatch, score_tables, [row, row])
    with pytest.raises(score_tables.TableDefect, match="given twice"):
        score_tables.score_table.__wrapped__("t")


def test_a_ragged_row_and_a_headless_table_are_defects(monkeypatch):
    _shipped(monkeypatch, score_tables, [{"x": "1", "y=1": None}])
    with pytest.raises(score_tables.TableDefect, match="more or fewer cells"):
        score_tables.table_rows("t")
    _shipped(monkeypatch, score_tables, [], head=("title: t",))
    with pytest.raises(score_tables.TableDefect, match="source and status"):
        score_tables.table_head("t")


def test_a_gap_between_bands_is_a_defect(monkeypatch):
    shared = {"item": "i", "kind": "band", "unit": "", "flag": "", "words": "", "status": "", "low_in": "yes"}
    bands = [
        {**shared, "points": "1", "low": "0", "high": "10", "high_in": "yes"},
        {**shared, "points": "2", "low": "10", "high": "20", "high_in": "yes"},
    ]
    monkeypatch.setattr(item_scores, "table_rows", lambda name, package: bands)
    with pytest.raises(score_tables.TableDefect, match="t_items: i has a gap or an overlap at 10"):
        _ = item_scores.ItemBook("t").items
    zones = [{**b, "quantity": "q", "class": "inside", "source": "s", "edition": "e"} for b in bands]
    monkeypatch.setattr(postural_classes, "table_rows", lambda name: zones)
    with pytest.raises(score_tables.TableDefect, match="q has a gap or an overlap at 10"):
        postural_classes.zones.__wrapped__()


@pytest.mark.parametrize(
    ("value", "text"), [(24.0, "24"), (19.96, "19.96"), (19.04, "19"), (-0.0, "0"), (100.0, "100")]
)
def test_numbers_keep_to_their_band(value, text):
    (bands,) = item_scores.ItemBook("rula").items["neck"].bands.values()
    assert item_scores.plain_number(value, bands) == text


def test_lookup_broadcasts():
    table = score_tables.score_table("rula_table_c")
    cells = table.at(score_c=np.arange(1, 9)[:, None], score_d=np.arange(1, 8))
    assert (cells == table.values).all()
    assert SimpleNamespace(**table.limits).score_c == (1, 8)
