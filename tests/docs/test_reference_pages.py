"""Pages made from data are current, and every key cited in the code is registered."""

from __future__ import annotations

import re

from deskmend.risk.rosa import LIMITS as ROSA_PARTS
from deskmend.risk.rula import LIMITS as RULA_ITEMS
from deskmend.risk.scores.day import MODEL, zones
from deskmend.risk.severity import curves

from .reference_pages import (
    AGAIN,
    CATALOG_PAGE,
    METHODS,
    SOURCES,
    catalog,
    catalog_page,
    citing,
    methods_page,
    sources_page,
    words_of_code,
)


def test_the_page_of_sources_is_current() -> None:
    assert SOURCES.read_text(encoding="utf-8") == sources_page(), AGAIN


def test_the_page_of_the_catalog_is_current() -> None:
    assert CATALOG_PAGE.read_text(encoding="utf-8") == catalog_page(), AGAIN


def test_the_tables_of_the_methods_page_are_current() -> None:
    text = METHODS.read_text(encoding="utf-8")
    assert methods_page(text) == text, AGAIN


def test_every_registered_source_is_cited_somewhere() -> None:
    assert [key for key in catalog().sources if not citing(key)] == []


def test_every_key_with_a_year_in_the_code_is_registered() -> None:
    shaped = re.compile(r"^[a-z]+(?:_[a-z]+)*_(?:19|20)\d\d$")
    found = {word for words in words_of_code().values() for word in words if shaped.match(word)}
    assert found
    assert {key for key in found if key not in catalog().sources} == set()


def test_every_key_of_a_curve_is_registered() -> None:
    cited = {key for curve in curves().values() for key in curve.sources}
    assert {key for key in cited if key not in catalog().sources} == set()


def test_the_methods_page_tells_of_every_curve_and_class() -> None:
    text = re.sub("[-_]", " ", METHODS.read_text(encoding="utf-8")).lower()
    assert [name for name in (*curves(), *zones()) if name.replace("_", " ") not in text] == []


def test_the_methods_page_tells_how_every_item_is_scored_from_a_workplace() -> None:
    assert MODEL
    text = METHODS.read_text(encoding="utf-8")
    section = text[text.index("## From postures to scores") :]
    for item in (*RULA_ITEMS, *ROSA_PARTS):
        plain = item.replace("_", " ").removeprefix("arm ").removeprefix("body ")
        assert plain in section, item
