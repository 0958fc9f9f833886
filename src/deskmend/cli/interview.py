"""Asking for the measures one by one, at a terminal or line by line from a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from deskmend.cli.output import in_window, waiting
from deskmend.errors import DefectError, Fault, FaultList, InputFaults, Unreadable, visible
from deskmend.intake.catalog import Catalog
from deskmend.intake.interview import (
    Question,
    answers_text,
    load_answers,
    questions,
    read_answer,
    still_held,
    to_ask,
)
from deskmend.intake.typed_answers import NO, YES, AskedBack
from deskmend.language import tr
from deskmend.planning.inputs import sign_told, signs_of
from deskmend.report.forms.interview import (
    choice_groups,
    how_answered,
    interview_case,
    limits_text,
    opening,
    taken_text,
    where_text,
    wording,
)
from deskmend.report.layout import Page

if TYPE_CHECKING:
    from deskmend.intake.case import Case

_BACK, _MORE, _DONE, _PLAN = ("back", "atrás", "atras"), "?", ("done", "fin"), "plan"
"""What may be typed instead of an answer."""
_BRINGS_MORE = ("seat.surface", "seat.back", "means.budget")
"""Questions beyond the first eight without which whole kinds of fixes are not on offer."""
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
        with in_window(sys.stderr if to_stderr else sys.stdout):
            text = page.text()
        if text.strip():
            click.echo(f"\n{text}", err=to_stderr, nl=False)

    if not file.parent.is_dir():
        raise InputFaults([Fault(str(file), None, "", None, "a file in a folder that exists")])
    every = questions(catalog)
    answers: dict[str, str | None] = {}
    try:
        answers = _taken_up(file, every, say, to_stderr)
        _Asking(file, every, answers, catalog, say, to_stderr).run()
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
    _checked(text, file)
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


class _Asking:
    """Asks one question after the other; keeps the answers after each."""

    def __init__(
        self,
        file: Path,
        every: Sequence[Question],
        answers: dict[str, str | None],
        catalog: Catalog,
        say: _Say,
        to_stderr: bool,
    ) -> None:
        self._file, self._every, self._answers = file, every, answers
        self._catalog, self._say, self._to_stderr = catalog, say, to_stderr
        self._passed = [one.key for one in every if one.key in answers]
        """Questions answered or left out, in the order asked."""
        self._told_enough = False
        self._wanted: Question | None = None
        """Question that the first plan hangs on most."""

    def run(self) -> None:
        """Ask until nothing is left to ask, or the person is done."""
        question = self._next()
        while question is not None:
            self._tell_enough()
            self._say(_asked(question, self._answers, self._every))
            typed = self._line()
            if typed is None or (typed.lower() in _DONE and self._may_stop()):
                return
            if typed.lower() in _DONE:
                continue
            if typed == _MORE:
                self._say(_more(question, self._answers))
                typed = self._line() or ""
            if typed.lower() in _BACK:
                question = self._before(question)
            elif typed.lower() == _PLAN and self._enough():
                self._show_plan()
                question = self._next()
            elif self._answer(question, typed):
                self._keep()
                question = self._next()
            else:
                # The input ended while an answer was put right.
                return

    def _enough(self) -> bool:
        return not any(one.first and one.key not in self._answers for one in self._open())

    def _open(self) -> list[Question]:
        return [one for one in self._every if one.key not in self._answers and one.asked(self._answers)]

    def _next(self) -> Question | None:
        wanted, self._wanted = self._wanted, None
        return to_ask(self._every, self._answers) if wanted is None else wanted

    def _before(self, question: Question) -> Question:
        """Question before one; its answer is kept until another is given."""
        passed = [one for one in self._passed if one in self._answers]
        place = passed.index(question.key) if question.key in passed else len(passed)
        if place == 0:
            return question
        return next(one for one in self._every if one.key == passed[place - 1])

    def _line(self) -> str | None:
        """One line; None where a pipe ends and there is enough for a case."""
        try:
            return _line(self._to_stderr)
        except click.Abort:
            if sys.stdin.isatty() or not self._enough():
                raise
            return None

    def _tell_enough(self) -> None:
        if self._told_enough or not self._enough():
            return
        self._told_enough = True
        page = Page()
        page.heading(tr("Enough for a first plan"))
        page.paragraph(
            tr(
                "Write plan to see it, with the one measure worth taking next; done to stop here and write "
                "the file; or go on: each further answer makes the plan surer."
            )
        )
        self._say(page)

    def _may_stop(self) -> bool:
        if self._enough():
            return True
        page = Page()
        page.paragraph(tr("A few more are needed first: up to the end of this round."), 2)
        self._say(page)
        return False

    def _answer(self, question: Question, typed: str) -> bool:
        """Take an answer, asking back until it can be taken; False where the input ended."""
        meant, before = "", ""
        while True:
            try:
                kept = self._taken(question, typed, meant, before)
            except AskedBack as asked:
                meant, before = asked.meant, typed
                self._say(_asked_back(asked))
            except Unreadable as fault:
                meant = before = ""
                self._say(_refused(fault))
            else:
                self._take(question, kept)
                return True
            line = self._line()
            if line is None:
                return False
            if line == _MORE:
                self._say(_more(question, self._answers))
                line = self._line() or ""
            typed = line

    def _taken(self, question: Question, typed: str, meant: str, before: str) -> str | None:
        if not typed and question.key in self._answers:
            return self._answers[question.key]
        if not typed and question.needed:
            raise Unreadable("", tr("This one is needed: nothing could stand in for it."))
        if not typed:
            return None
        if meant and typed.lower() in YES:
            return read_answer(question, meant, self._answers, self._every, sure=True)
        if meant and typed.lower() in NO:
            raise Unreadable("", tr("Then type it again."))
        return read_answer(question, typed, self._answers, self._every, sure=bool(meant) and typed == before)

    def _take(self, question: Question, kept: str | None) -> None:
        """Keep an answer, say how it was taken, and drop those that no longer hold beside it."""
        changed = question.key in self._answers and self._answers[question.key] != kept
        self._answers[question.key] = kept
        if question.key in self._passed:
            self._passed.remove(question.key)
        self._passed.append(question.key)
        self._say(_remarks(question, kept, self._catalog))
        if not changed:
            return
        held = still_held(self._every, self._answers)
        dropped = [one for one in self._every if one.key in self._answers and one.key not in held]
        page = Page()
        for one in dropped:
            del self._answers[one.key]
            if one.asked(self._answers):
                page.paragraph(
                    tr("Asked again, since it no longer fits: {question}", question=tr(one.ask)), 2
                )
        self._say(page)

    def _keep(self) -> None:
        from deskmend.cli.output import write_new

        write_new(answers_file(self._file), answers_text(self._answers), force=True)

    def _show_plan(self) -> None:
        """Show the plan of the answers so far, and ask next what it hangs on most."""
        from deskmend.planning.inputs import find_prices
        from deskmend.planning.plan import planned
        from deskmend.planning.ready_case import NoPlan, prepare
        from deskmend.report.plan import plan_text

        case = _checked(interview_case(self._answers, self._every), self._file)
        prices = find_prices(case, self._catalog, None, None).table
        page = Page()
        try:
            with waiting(tr("searching for the best plan"), quiet=False):
                plan = planned(prepare(case, self._catalog, prices))
        except NoPlan as none:
            page.point("!", f"{none.hinders}; {none.would_help}")
            self._say(page)
            return
        with in_window(sys.stderr if self._to_stderr else sys.stdout):
            click.echo(f"\n{plan_text(plan, self._catalog, prices, False)}", err=self._to_stderr, nl=False)
        if more := [tr(one.ask) for one in self._open() if one.key in _BRINGS_MORE]:
            asked = " ".join(more)
            page.paragraph(
                tr("Not asked yet, and each may bring more into the plan: {questions}", questions=asked)
            )
        path = () if plan.least_sure is None else tuple(plan.least_sure[0].path)
        self._wanted = next((one for one in self._open() if one.loc == path), None)
        if self._wanted is not None:
            page.paragraph(tr("Asked next is the measure that the plan hangs on most."))
        self._say(page)


def _asked(question: Question, answers: Mapping[str, str | None], every: Sequence[Question]) -> Page:
    words = wording(question, answers)
    page = Page()
    page.heading(where_text(question, answers, every))
    page.paragraph(words.ask)
    page.paragraph(words.how, 2)
    if question.kind != "troubles" and tuple(question.words) != ("yes", "no"):
        # Signs are told by what they say, grades by their own number.
        bare = question.from_catalog in ("signs", "fixes") or all(
            word.isdecimal() for word, _ in words.choices
        )
        number = 0
        for said, choices in choice_groups(question, answers):
            page.paragraph(said, 2)
            rows = enumerate(choices, start=number + 1)
            page.table(
                [(str(at), *((meaning,) if bare else (word, meaning))) for at, (word, meaning) in rows],
                right=(0,),
            )
            number += len(choices)
    page.paragraph(how_answered(question), 2)
    if question.key in answers:
        kept = answers[question.key]
        told = tr("Left out so far.") if kept is None else taken_text(question, kept)
        page.paragraph(f"{told} {tr('Enter keeps it.')}", 2)
    else:
        page.paragraph(words.left_out, 2)
    return page


def _more(question: Question, answers: Mapping[str, str | None]) -> Page:
    """More on a question, for who asks."""
    words = wording(question, answers)
    page = Page()
    page.paragraph(words.how, 2)
    page.paragraph(limits_text(question), 2)
    page.paragraph(words.left_out or tr("This one is needed: nothing could stand in for it."), 2)
    page.paragraph(
        tr(
            "Enter leaves it out where that may be. back asks the one before again, and its answer is kept; "
            "done stops asking once there is enough for a plan; plan then shows it; Ctrl-C stops and keeps "
            "all."
        ),
        2,
    )
    return page


def _asked_back(asked: AskedBack) -> Page:
    page = Page()
    page.paragraph(asked.note, 2)
    return page


def _refused(fault: Unreadable) -> Page:
    page = Page()
    note = f"{fault.note.rstrip('.')}; " if fault.note else ""
    allowed = tr("allowed: {allowed}", allowed=fault.allowed) if fault.allowed else ""
    parts = [part for part in (f"{note}{allowed}".rstrip("; "), fault.hint) if part]
    page.paragraph("; ".join(parts), 2)
    return page


def _remarks(question: Question, kept: str | None, catalog: Catalog) -> Page:
    """What has to be said at once about an answer."""
    page = Page()
    if kept is not None:
        page.paragraph(taken_text(question, kept), 2)
    if question.from_catalog == "signs" and kept not in (None, "none"):
        page.points([sign_told(sign) for sign in signs_of((kept or "").split(", "), catalog)], mark="!")
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


def _checked(text: str, file: Path) -> Case:
    """Case that was put together; that it is one is held here."""
    from deskmend.intake.case_file import read_case
    from deskmend.intake.reading.yaml_tree import parse_tree, to_plain

    faults = FaultList(str(file))
    tree = parse_tree(text, faults.file, faults)
    case, found = (None, []) if tree is None else read_case(to_plain(tree.root), faults.file, tree)
    if case is None or faults or found:
        raise DefectError(f"answers taken one by one make no case: {[str(one) for one in (*faults, *found)]}")
    return case
