"""Every message has a translation that says as much, and nothing is translated that nobody says."""

from __future__ import annotations

import re

import pytest
from babel.messages.catalog import Message

from deskmend.language import LANGUAGES, reading, tr, trn

from .extract import all_texts, read_messages

TRANSLATED = LANGUAGES[1:]
PLACEHOLDER = re.compile(r"\{[^{}]*\}")
AGAIN = "bring the message catalogs up to date: PYTHONPATH=src:. python -m tests.messages.extract"


def forms(message: Message) -> list[tuple[str, str]]:
    """Each English form with its translation."""
    if isinstance(message.id, tuple):
        return list(zip(message.id, message.string, strict=True))
    return [(message.id, message.string)]


def messages(language: str) -> list[Message]:
    return [message for message in read_messages(language) if message.id]


@pytest.mark.parametrize("language", TRANSLATED)
def test_catalog_holds_exactly_the_messages_of_the_project(language: str) -> None:
    known = {forms(message)[0][0] for message in messages(language)}
    said = {text.text for text in all_texts()}
    assert sorted(said - known) == [], AGAIN
    assert sorted(known - said) == [], AGAIN
    assert list(read_messages(language).obsolete) == [], AGAIN


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_message_is_translated(language: str) -> None:
    empty = [one for message in messages(language) for one, told in forms(message) if not told.strip()]
    assert empty == []
    assert [message.id for message in messages(language) if message.fuzzy] == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_plural_forms_match_the_calls(language: str) -> None:
    many = {text.text for text in all_texts() if text.plural is not None}
    assert many
    assert {message.id[0] for message in messages(language) if isinstance(message.id, tuple)} == many


@pytest.mark.parametrize("language", TRANSLATED)
def test_translations_fill_in_the_same_things(language: str) -> None:
    differ = [
        (one, told)
        for message in messages(language)
        for one, told in forms(message)
        if sorted(PLACEHOLDER.findall(one)) != sorted(PLACEHOLDER.findall(told))
        # A size is turned into inches together with its unit, so both stay side by side.
        or one.count("{size} mm") != told.count("{size} mm")
    ]
    assert differ == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_translations_join_to_what_stands_beside_them(language: str) -> None:
    differ = [
        one
        for message in messages(language)
        for one, told in forms(message)
        if (one[:1].isspace(), one[-1:].isspace()) != (told[:1].isspace(), told[-1:].isspace())
    ]
    assert differ == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_translations_keep_every_number(language: str) -> None:
    """Sizes, hours and counts are safety as much as sense, so no figure may get lost or change."""
    differ = []
    for message in messages(language):
        for one, told in forms(message):
            first = sorted(re.findall(r"\d+(?:\.\d+)?", one))
            second = sorted(re.findall(r"\d+(?:\.\d+)?", re.sub(r"(?<=\d),(?=\d)", ".", told)))
            if first != second:
                differ.append((one, told))
    assert differ == []


def test_spanish_claims_no_cure() -> None:
    """Exposure is all that is counted; who may stop or cure pain is never us."""
    claims = re.compile(r"\b(cura|curan|curar|previene|previenen|prevenir|sana|sanan|sanar)\b", re.IGNORECASE)
    assert [told for one in messages("es") for _, told in forms(one) if claims.search(told)] == []


def test_spanish_keeps_off_words_that_mean_something_else_elsewhere() -> None:
    """In parts of America they are a lavatory, a cooker, standing up or worse (common practice, no source).

    Who reads is told as *usted*.
    """
    elsewhere = re.compile(
        r"\b(sanitari\w+|cog(?:e|en|er|ido|ida|iendo)|parad[oa]s?|estufas?|qué tan segur\w+"
        r"|[Ss]eñal(?:es)? de aviso|huesos de sentarse|[Tt]ú|[Tt]us?|ti|contigo)\b"
    )
    assert [told for one in messages("es") for _, told in forms(one) if elsewhere.search(told)] == []


def test_gathering_finds_plain_plural_and_looked_up_texts() -> None:
    found = {text.text: text for text in all_texts()}
    assert found["{count} piece"].plural == "{count} pieces"
    assert found["The same again as an assessment:"].where == "deskmend.report.plan"
    assert "trial or review" in found  # stands in a dictionary that tr looks up
    assert "gaze to the {of}" in found  # stands in a table
    assert "Rolled towel in the small of the back" in found  # stands in the catalog


def test_sentences_are_filled_in_the_language_being_read() -> None:
    assert tr("Cost: {cost}", cost="3") == "Cost: 3"
    with reading("es"):
        assert tr("Time: {time}.", time="5 min") == "Tiempo: 5 min."
        assert trn("{count} piece", "{count} pieces", 1) == "1 pieza"
        assert trn("{count} piece", "{count} pieces", 3) == "3 piezas"
        assert tr("A text of somebody's own catalog {size}") == "A text of somebody's own catalog {size}"
        assert tr("") == ""
    assert tr("Time: {time}.", time="5 min") == "Time: 5 min."


def test_unknown_languages_are_refused() -> None:
    with pytest.raises(ValueError, match="allowed en, es"), reading("xx"):
        pass
