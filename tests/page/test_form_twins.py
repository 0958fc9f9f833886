"""What people type is read by two programs, ours and the form's: one list of texts, one result, one case."""

from __future__ import annotations

import json
import random
from functools import cache

import pytest

from deskmend.errors import Unreadable
from deskmend.intake.catalog import load_catalog
from deskmend.intake.interview import Question, questions, read_answer, screens, still_held, to_ask
from deskmend.intake.typed_answers import AskedBack
from deskmend.language import LANGUAGES, reading
from deskmend.report.forms.interview import interview_case, taken_text
from deskmend.report.forms.travelling import module_text, questions_for_browser

from .browser import Browser

Answers = dict[str, str | None]
CATALOG = load_catalog()
EVERY = questions(CATALOG)
NUMBERS = [one for one in EVERY if one.kind in ("measure", "pieces", "money")]

TEXTS = (
    "5'4 5’4” 5'4\" 5ft4in 5'13 6' 5.5' 1,63 1.63 1,63m 163 163cm 1630 1630mm 64 64in 4,65m 46,5 465cm "
    "46.5mm 0 1 2 3,8 38 38,42 38,42,25 7 8,0 90 280 300 12.25 57.25mm 2,25in 1m63 1m6 a4 2A4 0.5a4 card "
    "1.5letter 1e3 -5 +5 nan inf ٣ 12345678 0.0001 4:30 4h30 1:75 90min 1.5h 25h 4x35 4x3,5cm 40x35 0x35 4× "
    "4,5,6 none nothing 25,00 25,005 1.234,50 1,234 €40 40EUR 0,5 00040 1000000000000 1000000000001 mm cm ' "
    '" , .'
).split()
SPACED = (
    "5 ft 4 in",
    " 1,63 m ",
    "1 m 63",
    "2 A4 + 1 card + 10",
    "2 a4 + card + 3 mm",
    "1 A4 + 100 + 20 + 30 + 4 + 5 + 6",
    "38 42 25",
    "38, 42, 25",
    "3,8 4,2 cm",
    "38 and 42",
    "38 y 42",
    "4 x 35, 2 x 40",
    "1.5 in, 2 in",
    "38; 42; 25",
    "4 cm 38 mm",
    "38 4",
    "3,5 4,25",
    "4 h 30 min",
    "90 minutos",
    "4,5 horas",
    "120 pulgadas",
    "1,2 metros",
    "40,00 eur",
    "40 €",
    "<script>alert(1)</script>",
    "100 x 35",
    "1 2 3 4 5 6 7 8 9",
)
HELD: Answers = {
    "task.hours": "5",
    "laptop.screen_top": "232",
    "monitor.top": "420",
    "desk.height": "755",
    "desk.underside": "690",
    "seat.height": "465",
    "means.currency": "EUR",
}


@cache
def data_in(language: str) -> str:
    """What the form goes by, as text: the driver of the browser would sort its keys."""
    with reading(language):
        return json.dumps(questions_for_browser(CATALOG))


@pytest.fixture
def module(browser: Browser) -> Browser:
    """A page that holds the form's reader alone."""
    names = "readAnswer, caseText, takenText, screens, stillHeld, AskedBack, Unreadable"
    browser.show(
        f"<!DOCTYPE html><html lang=en><title>reader</title><script>{module_text('answers.js')}\n"
        f"window.module = {{ {names} }};</script></html>"
    )
    return browser


READ = """
const data = JSON.parse(arguments[0]), asked = arguments[1];
const byKey = Object.fromEntries(data.questions.map(one => [one.key, one]));
return asked.map(([key, text, answers]) => {
  try {
    const kept = module.readAnswer(data, byKey[key], text, answers, false);
    return ['kept', kept, module.takenText(data, byKey[key], kept)];
  } catch (error) {
    if (error instanceof module.AskedBack) return ['back', error.meant, error.note];
    if (error instanceof module.Unreadable) return ['no', '', ''];
    throw error;
  }
});
"""


def ours(one: Question, text: str, answers: Answers) -> list[str]:
    try:
        kept = read_answer(one, text, answers, EVERY)
    except AskedBack as asked:
        # the form says what was meant on its buttons
        return ["back", asked.meant, asked.note.split(" Did you mean")[0].split(" Is it right")[0]]
    except Unreadable:
        return ["no", "", ""]
    return ["kept", kept, taken_text(one, kept)]


def test_both_read_every_text_alike(module: Browser) -> None:
    asked = [
        (one, text, held)
        for one in NUMBERS
        for text in (*TEXTS, *SPACED)
        for held in (HELD,)
        if not (one.kind == "measure" and one.words and one.word_meant(text, tuple(one.words)))
        and not (one.kind == "pieces" and text == "nothing")
    ]
    theirs = module.run(READ, data_in("en"), [(one.key, text, held) for one, text, held in asked])
    differ = [
        (one.key, text, mine, other)
        for (one, text, held), other in zip(asked, theirs, strict=True)
        if (mine := ours(one, text, dict(held))) != other
    ]
    assert differ == []
    ends = [other[0] for other in theirs]
    assert min(ends.count(end) for end in ("kept", "back", "no")) > 100
    assert module.console() == []


def drawn(seed: int) -> Answers:
    """Answers of somebody who leaves some out and stops somewhere."""
    rng = random.Random(seed)
    answers: Answers = {}
    stop = rng.randrange(10, 60)
    while (question := to_ask(EVERY, answers)) is not None and (question.first or len(answers) < stop):
        left_out = not question.needed and rng.random() < 0.3
        answers[question.key] = None if left_out else told(question, rng, answers)
    return answers


def told(question: Question, rng: random.Random, answers: Answers) -> str:
    words = question.choices(answers)
    while True:
        if question.kind == "choices":
            text = ", ".join(rng.sample(words, rng.randrange(1, 4))) if rng.random() < 0.5 else "none"
        elif question.kind == "troubles":
            text = ", ".join(f"{word} {rng.randrange(11)}" for word in rng.sample(words, 2))
        elif question.kind == "currency":
            text = rng.choice(["EUR", "JPY", "KWD"])
        elif question.kind == "money":
            text = str(rng.randrange(100))
        elif words and (question.kind == "choice" or rng.random() < 0.7):
            text = rng.choice(words)
        else:
            usual = question.usually or question.limits
            value = rng.uniform(usual.low, usual.high)
            text = f"{value:.0f}" if usual.kind == "count" else f"{value:.2f}"
            text = f"{text} mm" if usual.kind == "length" else text
        try:
            return read_answer(question, text, answers, EVERY, sure=True)
        except Unreadable:
            continue


CASES = """
const data = JSON.parse(arguments[0]), drawn = arguments[1];
return drawn.map(answers => [
  module.caseText(data, answers),
  [true, false].map(first => module.screens(data, answers, first).map(one => one.map(each => each.key))),
  module.stillHeld(data, {...answers, 'desk.height': '600', 'task.main': 'paper'}),
]);
"""


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_same_answers_give_the_same_case_byte_for_byte(module: Browser, language: str) -> None:
    every = [drawn(seed) for seed in range(40)]
    theirs = module.run(CASES, data_in(language), every)
    with reading(language):
        for answers, (text, asked, held) in zip(every, theirs, strict=True):
            assert text == interview_case(answers, EVERY)
            assert asked == [
                [[one.key for one in screen] for screen in screens(EVERY, answers, first)]
                for first in (True, False)
            ]
            changed = {**answers, "desk.height": "600", "task.main": "paper"}
            assert held == still_held(EVERY, changed)
