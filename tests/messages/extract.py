"""Every message of the project; as a program it brings the message catalogs up to date.

Run from the project's folder: ``PYTHONPATH=src:. python -m tests.messages.extract``. New messages are added
with an empty translation, and those that nothing says any more are taken out.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

from deskmend.language import LANGUAGES

from .data_texts import blank_case_texts, catalog_texts, column_texts, question_texts, table_texts
from .source_texts import PACKAGE, Text, code_texts

FOLDER = PACKAGE / "locale"
WIDTH = 110


@cache
def all_texts() -> tuple[Text, ...]:
    """Every message once, in the order code, tables, catalog; a plural form wins over the bare text."""
    found: dict[str, Text] = {}
    data = (*question_texts(), *blank_case_texts(), *table_texts(), *column_texts(), *catalog_texts())
    for text in (*code_texts(), *data):
        known = found.setdefault(text.text, text)
        if text.plural is not None and known.plural is None:
            found[text.text] = text
    return tuple(found.values())


def file_of(language: str) -> Path:
    """Message catalog of a language."""
    return FOLDER / f"{language}.po"


def read_messages(language: str) -> Catalog:
    """Message catalog of a language as it is; an empty one for a new language."""
    if not file_of(language).exists():
        return Catalog(locale=language)
    return read_po(BytesIO(file_of(language).read_bytes()), locale=language)


def brought_up_to_date(old: Catalog, texts: Iterable[Text]) -> Catalog:
    """Same catalog with exactly the messages of the project, translations kept."""
    new = Catalog(locale=old.locale, header_comment="", charset="utf-8")
    # As many plural forms as are translated; what a language has in a newer list of locales is no matter.
    new._num_plurals, new._plural_expr = old.num_plurals, old.plural_expr
    new.fuzzy = False
    # Forms of a plural are those of the file, not those that this version of Babel knows for the language.
    new.mime_headers = [("Plural-Forms", old.plural_forms)]
    for text in texts:
        key = text.text if text.plural is None else (text.text, text.plural)
        known = old.get(text.text)
        kept = known.string if known is not None and _same_form(known, text) else None
        new.add(key, string=kept or (("", "") if text.plural else ""), auto_comments=[text.where])
    return new


def _same_form(known: Message, text: Text) -> bool:
    return bool(known.pluralizable) == (text.plural is not None)


def written(catalog: Catalog) -> bytes:
    """Message catalog as a file; the header holds nothing that changes from day to day."""
    body = BytesIO()
    write_po(body, catalog, width=WIDTH, omit_header=True)
    header = (
        f'msgid ""\nmsgstr ""\n"Language: {catalog.locale_identifier}\\n"\n"MIME-Version: 1.0\\n"\n'
        '"Content-Type: text/plain; charset=utf-8\\n"\n"Content-Transfer-Encoding: 8bit\\n"\n'
        f'"Plural-Forms: {catalog.plural_forms}\\n"\n\n'
    )
    return header.encode("utf-8") + body.getvalue().strip(b"\n") + b"\n"


def bring_up_to_date() -> None:
    """Write every message catalog anew, and tell how many messages still want a translation."""
    for language in LANGUAGES[1:]:
        new = brought_up_to_date(read_messages(language), all_texts())
        file_of(language).write_bytes(written(new))
        empty = sum(1 for message in new if message.id and not _translated(message))
        print(f"{file_of(language).name}: {len(new)} messages, {empty} without translation")


def _translated(message: Message) -> bool:
    strings = message.string if isinstance(message.string, tuple) else (message.string,)
    return all(strings)


if __name__ == "__main__":
    bring_up_to_date()
