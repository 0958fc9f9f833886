"""Asking for the measures one by one, at a terminal or line by line from a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import click

from deskmend.errors import DefectError, Fault, FaultList, InputFaults, Unreadable, visible
from deskmend.intake.catalog import Catalog
from deskmend.intake.interview import (
    Question,
    answers_text,
    load_answers,
    questions,
    read_answer,
    to_ask,
)
from deskmend.language import tr
from deskmend.planning.inputs import sign_told, signs_of
from deskmend.report.forms.interview import interview_case, opening, part_heading, wording
from deskmend.report.layout import Page

_BACK = "back"
_PROMPT = "> "
_LONGEST_LINE = 10_000
"""Most characters of one line that are read [-]."""
_Say = Callable[[Page], None]


def answers_file(file: Path) -> Path:
    """Where the answers of a stopped interview are kept: ``FILE.answers``."""
    return file.with_name(f"{file.name}.answers")


def forget_answers(file: Path) -> None:
    """Take away the answers kept beside a case that is written now."""
    answers_file(file).unlink(missing_ok=True)


def interview(file: Path, catalog: Catalog, to_stderr: bool) -> str:
    """Ask until everything that is needed is told, and give the case, checked.

    Nothing is written to the file of the case to be; answers are kept beside it after each question.
    Questions go to stderr where stdout is for a document.

    Raises `InputFaults` where the answers kept from before cannot be read, or none can be kept, and
    click.Abort where the person stopped or the input ended.
    """

    def say(page: Page) -> None:
        if page.text().strip():
            click.echo(f"\n{page.text()}", err=to_stderr, nl=False)

    if not file.parent.is_dir():
        raise InputFaults([Fault(str(file), None, "", None, "a file in a folder that exists")])
    every = questions(catalog)
    answers: dict[str, str | None] = {}
    try:
        answers = _taken_up(file, every, say, to_stderr)
        _ask_all(file, every, answers, catalog, say, to_stderr)
    except (KeyboardInterrupt, click.Abort):
        click.echo("", err=True)
        if answers:
            kept = visible(str(answers_file(file)), None)
            click.echo(
                tr(
                    "Stopped. Your answers are kept in {file}; the same command goes on from there.",
                    file=kept,
                ),
                err=True,
            )
        raise click.Abort from None
    text = interview_case(answers, every)
    _check(text)
    return text


def _taken_up(file: Path, every: Sequence[Question], say: _Say, to_stderr: bool) -> dict[str, str | None]:
    """Answers from before, if there are any and the person wants to go on from them."""
    page = Page()
    kept = answers_file(file)
    if not kept.exists():
        for line in opening():
            page.paragraph(line)
        say(page)
        return {}
    answers = load_answers(kept, every)
    page.paragraph(
        tr(
            "You stopped here before, with {count} answers. Enter goes on from there; new begins again.",
            count=len(answers),
        )
    )
    say(page)
    while True:
        typed = _line(to_stderr).lower()
        if typed == "":
            return answers
        if typed == "new":
            return {}
        again = Page()
        again.paragraph(tr("Enter, or new."))
        say(again)


def _ask_all(
    file: Path,
    every: Sequence[Question],
    answers: dict[str, str | None],
    catalog: Catalog,
    say: _Say,
    to_stderr: bool,
) -> None:
    part = 0
    while (question := to_ask(every, answers)) is not None:
        say(_asked(question, answers, question.part != part))
        part = question.part
        while True:
            typed = _line(to_stderr)
            if typed.lower() == _BACK:
                if answers:
                    answers.popitem()
                break
            try:
                kept = _taken(question, typed, answers, every)
            except Unreadable as fault:
                say(_refused(fault))
                continue
            answers[question.key] = kept
            say(_remarks(question, kept, catalog))
            break
        _keep(file, answers)


def _taken(
    question: Question, typed: str, answers: dict[str, str | None], every: Sequence[Question]
) -> str | None:
    if typed:
        return read_answer(question, typed, answers, every)
    if question.needed:
        raise Unreadable("", tr("This one is needed: nothing could stand in for it."))
    return None


def _asked(question: Question, answers: dict[str, str | None], new_part: bool) -> Page:
    words = wording(question, answers)
    page = Page()
    if new_part:
        page.heading(part_heading(question.part))
    page.paragraph(words.ask)
    page.paragraph(words.how, 2)
    # Signs are told by what they say, grades by their own number.
    bare = question.from_catalog == "signs" or all(word.isdecimal() for word, _ in words.choices)
    page.table(
        [
            (str(number), meaning) if bare else (str(number), word, meaning)
            for number, (word, meaning) in enumerate(words.choices, start=1)
        ],
        right=(0,),
    )
    page.paragraph(words.left_out, 2)
    return page


def _refused(fault: Unreadable) -> Page:
    page = Page()
    note = f"{fault.note}; " if fault.note else ""
    allowed = tr("allowed: {allowed}", allowed=fault.allowed) if fault.allowed else ""
    parts = [part for part in (f"{note}{allowed}".rstrip("; "), fault.hint) if part]
    page.paragraph("; ".join(parts), 2)
    return page


def _remarks(question: Question, kept: str | None, catalog: Catalog) -> Page:
    """What has to be said at once about an answer."""
    page = Page()
    if question.from_catalog == "signs" and kept:
        page.points([sign_told(sign) for sign in signs_of(kept.split(", "), catalog)], mark="!")
    if question.kind == "currency" and kept:
        sample = catalog.price_folder / f"sample_{kept.lower()}.csv"
        if not sample.is_file():
            page.paragraph(
                tr(
                    "No sample prices in {currency} come with deskmend. Write your own into the table that "
                    "deskmend prices new makes for the case.",
                    currency=kept,
                ),
                2,
            )
    return page


def _keep(file: Path, answers: dict[str, str | None]) -> None:
    from deskmend.cli.files import write_new

    if answers:
        write_new(answers_file(file), answers_text(answers), force=True)
    else:
        forget_answers(file)


def _line(to_stderr: bool) -> str:
    """One line that was typed, without blanks at its ends; the end of the input stops the interview."""
    click.echo(_PROMPT, nl=not sys.stdin.isatty(), err=to_stderr)
    try:
        read = rest = sys.stdin.readline(_LONGEST_LINE)
        while len(rest) == _LONGEST_LINE and not rest.endswith("\n"):
            rest = sys.stdin.readline(_LONGEST_LINE)
    except UnicodeDecodeError:
        return "\ufffd"
    if not read:
        raise click.Abort
    return read.strip()


def _check(text: str) -> None:
    """Hold that what was put together is a case."""
    from deskmend.intake.case_file import read_case
    from deskmend.intake.reading.yaml_tree import parse_tree, to_plain

    faults = FaultList("the case put together")
    tree = parse_tree(text, faults.file, faults)
    found = [] if tree is None else read_case(to_plain(tree.root), faults.file, tree)[1]
    if tree is None or faults or found:
        raise DefectError(f"answers taken one by one make no case: {[str(one) for one in (*faults, *found)]}")
