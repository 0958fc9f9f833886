// The questions, one screen at a time: asks, reads back, keeps, and ends in a case. Serves the form that travels
// and the local page; what it says and draws comes from report/forms/travelling.py.
import { AskedBack, Unreadable, asked, caseText, choices, fill, readAnswer, screens, stillHeld, takenText } from "./answers.js";

/** @typedef {import("./answers.js").Answers} Answers */
/** What becomes of the answers, and where they are kept.
 * @typedef {Object} FormOptions
 * @property {Storage | null} [storage]  Where answers are kept while the page is open or shut; nowhere if null.
 * @property {Answers} [answers]  Answers that are known already; those kept win.
 * @property {string | null} [start]  Key of the question to begin with; the opening if left out.
 * @property {(answers: Answers) => void} [answered]  Called after each screen that was answered.
 * @property {(at: string) => void} [shown]  Called with each screen that is shown.
 * @property {(text: string, answers: Answers) => void} [finished]  Takes the case; without it the form hands it
 *   over itself: to save, share or copy. */

const KEPT = "deskmend-answers/1";
const KEPT_DAYS = 7;
const DAY = 24 * 3600 * 1000;

/** @param {string} tag @param {Object<string, any>} [given] @param {...(Node | string)} inside */
const make = (tag, given, ...inside) => {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(given || {})) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, String(value));
  }
  node.append(...inside);
  return node;
};

/** Start asking in an element. @param {HTMLElement} root @param {any} data @param {FormOptions} [options] */
export const startForm = (root, data, options = {}) => {
  const ui = data.ui;
  const storage = options.storage === undefined ? ownStorage() : options.storage;
  /** @type {{at: string, answers: Answers, typed: Object<string, string>, unit: string}} */
  const state = { at: options.start || "opening", answers: { ...options.answers }, typed: {}, unit: data.entry_unit };
  let keeps = storage !== null;
  /** Where to go on after a question that a later answer called for. @type {string | null} */
  let return_to = null;

  const takeUp = () => {
    if (storage === null) return;
    try {
      const kept = JSON.parse(storage.getItem(KEPT) || "null");
      if (kept === null) return;
      if (kept.format !== KEPT || typeof kept.saved !== "number" || Date.now() - kept.saved > KEPT_DAYS * DAY) {
        storage.removeItem(KEPT);
        return;
      }
      state.answers = stillHeld(data, { ...state.answers, ...kept.answers });
      state.typed = Object.fromEntries(Object.entries(kept.typed || {}).filter(([, text]) => typeof text === "string"));
      if (["cm", "mm", "in"].includes(kept.unit)) state.unit = kept.unit;
      if (!options.start && typeof kept.at === "string") state.at = kept.at;
    } catch (error) {
      // Kept by something else, or not to be read: begun anew, and said if it cannot be kept either.
      keeps = error instanceof SyntaxError;
      if (keeps) storage.removeItem(KEPT);
    }
  };

  const keep = () => {
    if (storage === null) return;
    const kept = { format: KEPT, saved: Date.now(), at: state.at, answers: state.answers, typed: state.typed, unit: state.unit };
    try {
      storage.setItem(KEPT, JSON.stringify(kept));
      keeps = true;
    } catch (error) {
      if (!(error instanceof DOMException)) throw error;
      keeps = false;
    }
  };

  const erase = () => {
    if (storage !== null) storage.removeItem(KEPT);
    state.answers = {};
    state.typed = {};
    state.at = "erased";
    show();
  };

  /** @param {string} at */
  const go = (at) => {
    state.at = at;
    keep();
    show();
    window.scrollTo(0, 0);
    const title = root.querySelector("h1");
    if (title instanceof HTMLElement) title.focus();
  };

  /** Screens of both rounds that are asked now. */
  const all = () => [...screens(data, state.answers, true), ...screens(data, state.answers, false)]
    .map((screen) => screen.filter((one) => asked(one, state.answers)))
    .filter((screen) => screen.length);

  /** Names of what comes one after the other. */
  const places = () => {
    const firsts = screensAsked(true);
    return ["opening", ...firsts.map((one) => one[0].key), "enough", ...screensAsked(false).map((one) => one[0].key), "end"];
  };
  /** @param {boolean} first */
  const screensAsked = (first) => all().filter((screen) => screen[0].first === first);

  /** @param {number} way */
  const move = (way) => {
    const names = places();
    const found = names.indexOf(state.at);
    go(names[Math.min(Math.max((found < 0 ? 0 : found) + way, 0), names.length - 1)]);
  };

  /** @param {string} text @param {() => void} act @param {string} [kind] */
  const button = (text, act, kind) => make("button", { type: "button", class: kind || "", onclick: act }, text);
  /** @param {string} text */
  const title = (text) => make("h1", { tabindex: -1 }, text);

  const show = () => {
    const names = places();
    if (!names.includes(state.at) && !["pause", "erased"].includes(state.at)) state.at = "opening";
    const views = /** @type {Object<string, () => Node[]>} */ ({ opening, enough, end, pause, erased });
    const make_view = views[state.at];
    root.replaceChildren(...(make_view ? make_view() : questionView()));
    if (options.shown) options.shown(state.at);
  };

  /** Warning signs that were told. @returns {any[]} */
  const signsTold = () => {
    const asking = data.questions.find((/** @type {any} */ one) => one.from_catalog === "signs");
    const have = new Set(asking === undefined ? [] : (state.answers[asking.key] || "").split(", "));
    return data.signs.filter((/** @type {any} */ one) => have.has(one.id));
  };
  /** What to do about them, before anything else; nothing where there are none. */
  const signs = () => {
    const told = signsTold();
    return told.length ? [make("strong", {}, ui.told_first), make("ul", {}, ...told.map((/** @type {any} */ one) => make("li", {}, one.told)))] : [];
  };
  /** The same as a part of a screen. */
  const signsPart = () => {
    const told = signs();
    return told.length ? [make("div", { class: "signs" }, ...told)] : [];
  };
  /** A screen with its title after the warning signs; in an emergency they stand alone, all else folded.
   * @param {string} text @param {...(Node | string)} inside */
  const afterSigns = (text, ...inside) => (signsTold().some((one) => one.emergency)
    ? [title(ui.emergency), ...signsPart(), make("details", { class: "waits" }, make("summary", {}, ui.waits), make("h2", {}, text), ...inside)]
    : [title(text), ...signsPart(), ...inside]);

  /** @returns {Node[]} */
  /** What is said where the case is written at the end, or of the page that travels. @param {string} key */
  const own = (key) => ui[options.finished ? `${key}_here` : key];

  const opening = () => {
    const begun = Object.keys(state.answers).length > 0;
    return [
      title(ui.title),
      ...own("opening").map((/** @type {string} */ line) => make("p", {}, line)),
      make("p", { class: "mind" }, keeps ? own("shared") : ui.not_kept),
      make("div", { class: "actions" },
        button(begun ? ui.go_on : ui.begin, () => go(begun ? firstOpen() : places()[1]), "strong"),
        ...(begun && !options.finished ? [button(ui.erase, erase)] : [])),
    ];
  };

  /** First screen that has no answer yet. */
  const firstOpen = () => {
    const open = all().find((screen) => screen.some((one) => !(one.key in state.answers)));
    if (!open) return "end";
    return open[0].first || screensAsked(true).some((one) => one[0].key === state.at) ? open[0].key : "enough";
  };

  const enough = () => [
    top(""),
    ...afterSigns(ui.enough,
      make("p", {}, ui.enough_more),
      make("p", {}, fill(ui.enough_count, { number: screensAsked(false).length })),
      make("div", { class: "actions" },
        button(ui.go_on, () => move(1), "strong"),
        button(options.finished ? ui.make_plan : ui.hand_over_now, () => go("end")))),
  ];

  const pause = () => [
    title(ui.paused),
    make("p", {}, keeps ? own("paused_kept") : ui.not_kept),
    make("p", { class: "mind" }, own("shared")),
    make("div", { class: "actions" }, button(ui.go_on, () => go(before_pause), "strong"), button(ui.erase, erase)),
  ];
  let before_pause = "opening";

  const erased = () => [
    title(ui.erased),
    make("p", {}, ui.erased_all),
    make("div", { class: "actions" }, button(ui.begin_again, () => go("opening"), "strong")),
  ];

  /** Line above a screen. @param {string} where */
  const top = (where) => make("div", { class: "where" },
    button(ui.back, () => move(-1), "link"),
    make("p", {}, where),
    storage === null ? "" : button(ui.pause, () => { before_pause = state.at; go("pause"); }, "link"));

  /** @returns {Node[]} */
  const questionView = () => {
    const screen = all().find((one) => one[0].key === state.at) || [];
    const lead = screen[0];
    const round = screensAsked(lead.first);
    const number = round.findIndex((one) => one[0].key === lead.key) + 1;
    const count = lead.first ? screens(data, state.answers, true).length : round.length;
    const several = screen.length > 1 && lead.screen === "things";
    const form = make("form", { novalidate: true, autocomplete: "off", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      next();
    } });
    form.append(...screen.map((one) => block(one, several || one !== lead, !several || one === lead)));
    const skippable = !lead.needed;
    form.append(make("div", { class: "bottom" },
      skippable ? button(ui.not_known, () => leaveOut(screen)) : "",
      make("button", { type: "submit", class: "strong" }, ui.next)));
    return [
      top(fill(lead.first ? ui.where_first : ui.where_further, { number, all: count })),
      make("div", { class: "progress", "aria-hidden": "true" },
        ...Array.from({ length: count }, (_, place) => make("span", { class: place < number ? "done" : "" }))),
      title(several ? ui.things : lead.ask),
      form,
    ];
  };

  /** One question of a screen. @param {any} question @param {boolean} small @param {boolean} costs */
  const block = (question, small, costs) => {
    const node = make("div", { class: "question", "data-key": question.key });
    if (small) node.append(make("h2", { id: "ask-" + question.key }, question.ask));
    if (question.how) node.append(make("p", { class: "how", id: "how-" + question.key }, question.how));
    if (question.drawing) {
      const drawn = make("div", { class: "measure" });
      // Drawings are our own, made with the form; nothing that anybody typed is ever read as markup.
      drawn.innerHTML = data.drawings[question.drawing];
      node.append(drawn);
    }
    const kinds = /** @type {Object<string, (question: any) => Node[]>} */ ({
      measure: measureField, pieces: measureField, money: measureField, choice: choiceField, choices: choicesField,
      troubles: troublesField, currency: currencyField,
    });
    node.append(...kinds[question.kind](question));
    node.append(make("div", { class: "problem", id: "problem-" + question.key, role: "alert" }));
    if (question.left_out && costs) {
      node.append(make("details", { class: "cost" }, make("summary", {}, ui.if_not_known), make("p", {}, question.left_out)));
    }
    return node;
  };

  /** @param {any} question */
  const shownAnswer = (question) => {
    if (question.key in state.typed) return state.typed[question.key];
    const kept = state.answers[question.key] ?? null;
    if (kept === null || question.words.some((/** @type {string[]} */ [word]) => word === kept)) return "";
    return kept === "none" ? kept : inUnit(question, kept);
  };

  /** A number that was kept, as it would be typed in the unit chosen. @param {any} question @param {string} kept */
  const inUnit = (question, kept) => {
    if (question.kind === "money") return kept.replace(".", data.decimal_sign);
    const per = isLength(question) ? { cm: 10, mm: 1, in: 25.4 }[state.unit] || 1 : 1;
    const texts = kept.split(", ").map((one) => {
      const text = per === 1 ? one : (Number(one) / per).toFixed(per === 10 ? 2 : 4).replace(/0+$/, "").replace(/\.$/, "");
      return text.replace(".", data.decimal_sign);
    });
    return texts.join(" ");
  };

  /** Whether a bare number is in the unit chosen. That of pieces is mm, and a small one might be how many there are.
   * @param {any} question */
  const isLength = (question) => question.kind === "measure" && question.limits.kind === "length";

  /** Text as it is read: a bare number is in the unit chosen. @param {any} question @param {string} text */
  const withUnit = (question, text) => {
    const bare = /^[0-9][0-9 .,;x×*]*$/i.test(text.trim()) || /^[.,][0-9]+$/.test(text.trim());
    return isLength(question) && bare ? text.trim().replace(/[,;\s]+$/, "") + " " + state.unit : text;
  };

  /** @param {any} question @returns {Node[]} */
  const measureField = (question) => {
    const out = [];
    const words = choices(question, state.answers);
    if (words.length) out.push(radios(question, words, ui.or_number));
    const id = "field-" + question.key;
    const input = make("input", {
      id, type: "text", inputmode: isLength(question) || question.kind !== "measure" ? "text" : "decimal",
      maxlength: 400, autocomplete: "off", autocapitalize: "off", spellcheck: "false", enterkeyhint: "next",
      "aria-describedby": `taken-${question.key}` + (question.how ? ` how-${question.key}` : ""),
    });
    /** @type {HTMLInputElement} */ (input).value = shownAnswer(question);
    input.addEventListener("input", () => {
      state.typed[question.key] = /** @type {HTMLInputElement} */ (input).value;
      root.querySelectorAll(`input[name="${CSS.escape("words-" + question.key)}"]`).forEach((one) => {
        /** @type {HTMLInputElement} */ (one).checked = false;
      });
      keep();
      readBack(question);
    });
    const taken = make("p", { class: "taken", id: "taken-" + question.key, role: "status" });
    const row = make("div", { class: "row" }, input);
    if (isLength(question)) row.append(unitChoice(question));
    out.push(make("label", { for: id }, question.short || question.ask), row, taken);
    if (isLength(question)) out.push(make("details", { class: "paper" }, make("summary", {}, ui.no_tape), make("p", {}, ui.paper)));
    queueMicrotask(() => readBack(question));
    return out;
  };

  /** @param {any} question */
  const unitChoice = (question) => {
    const names = /** @type {[string, string][]} */ ([["cm", "cm"], ["mm", "mm"], ["in", "ft in"]]);
    return make("div", { class: "joined", role: "radiogroup", "aria-label": ui.unit }, ...names.map(([unit, name]) => {
      const input = make("input", { type: "radio", name: "unit-" + question.key, value: unit, id: `unit-${unit}-${question.key}` });
      /** @type {HTMLInputElement} */ (input).checked = unit === state.unit;
      input.addEventListener("change", () => {
        state.unit = unit;
        keep();
        readBack(question);
      });
      return make("span", {}, input, make("label", { for: `unit-${unit}-${question.key}` }, name));
    }));
  };

  /** Say how a number would be taken. @param {any} question */
  const readBack = (question) => {
    const place = root.querySelector("#" + CSS.escape("taken-" + question.key));
    if (place === null) return;
    let told = "";
    const text = state.typed[question.key] ?? shownAnswer(question);
    if (text.trim()) {
      try {
        told = "= " + takenText(data, question, readAnswer(data, question, withUnit(question, text), state.answers, false));
      } catch (error) {
        if (!(error instanceof Unreadable)) throw error;
      }
    }
    if (place.textContent !== told) place.textContent = told;
  };

  /** @param {any} question @param {[string, string][]} words @param {string} label */
  const radios = (question, words, label) => {
    const name = "words-" + question.key;
    const two = words.length === 2 && words[0][0] === "yes";
    return make("fieldset", { class: two ? "joined" : "list" },
      make("legend", { class: "unseen" }, label ? question.ask + " " + label : question.ask),
      ...words.map(([word, meaning]) => {
        const input = make("input", { type: "radio", name, value: word, id: `${name}-${word}` });
        /** @type {HTMLInputElement} */ (input).checked = state.answers[question.key] === word && !(question.key in state.typed);
        input.addEventListener("change", () => {
          delete state.typed[question.key];
          const field = root.querySelector("#" + CSS.escape("field-" + question.key));
          if (field instanceof HTMLInputElement) field.value = "";
          chosen(question, word);
        });
        return make("span", {}, input, make("label", { for: `${name}-${word}` }, meaning || word));
      }));
  };

  /** Keep a word that was chosen, and show what it calls for. @param {any} question @param {string} word */
  const chosen = (question, word) => {
    state.answers[question.key] = word;
    keep();
    const screen = all().find((one) => one.some((each) => each.key === question.key)) || [];
    const shown = [...root.querySelectorAll(".question")].map((one) => one.getAttribute("data-key"));
    if (screen.map((one) => one.key).join() === shown.join()) return;
    for (const node of root.querySelectorAll(".question")) {
      if (!screen.some((one) => one.key === node.getAttribute("data-key"))) node.remove();
    }
    let after = /** @type {Element | null} */ (null);
    for (const one of screen) {
      const found = root.querySelector(`.question[data-key="${CSS.escape(one.key)}"]`);
      if (found === null && after !== null) after.after(block(one, true, true));
      after = root.querySelector(`.question[data-key="${CSS.escape(one.key)}"]`);
    }
  };

  /** @param {any} question @returns {Node[]} */
  const choiceField = (question) => [radios(question, choices(question, state.answers), "")];

  /** @param {any} question @returns {Node[]} */
  const choicesField = (question) => {
    const kept = state.answers[question.key] ?? null;
    const now = new Set(kept === null ? [] : kept.split(", "));
    const words = /** @type {[string, string][]} */ ([...choices(question, state.answers), ["none", ui.none_of_these]]);
    const name = "several-" + question.key;
    const said = make("div", { class: "signs", role: "alert" }, ...(question.from_catalog === "signs" ? signs() : []));
    /** @type {Map<string, string>} */
    const heads = new Map(question.groups.map((/** @type {[string, string[]]} */ [said, group]) => [group[0], said]));
    return [make("fieldset", { class: "list" }, make("legend", { class: "unseen" }, question.ask), ...words.flatMap(([word, meaning]) => {
      const input = make("input", { type: "checkbox", name, value: word, id: `${name}-${word}` });
      /** @type {HTMLInputElement} */ (input).checked = now.has(word);
      input.addEventListener("change", () => {
        const boxes = /** @type {HTMLInputElement[]} */ ([...root.querySelectorAll(`input[name="${CSS.escape(name)}"]`)]);
        const on = /** @type {HTMLInputElement} */ (input).checked;
        boxes.forEach((one) => {
          if (on && one !== input && (word === "none" || one.value === "none")) one.checked = false;
        });
        const ticked = boxes.filter((one) => one.checked).map((one) => one.value);
        if (ticked.length) state.answers[question.key] = ticked.join(", ");
        else delete state.answers[question.key];
        keep();
        if (question.from_catalog === "signs") said.replaceChildren(...signs());
      });
      const head = heads.has(word) ? [make("p", { class: "group" }, String(heads.get(word)))] : [];
      return [...head, make("span", {}, input, make("label", { for: `${name}-${word}` }, meaning || word))];
    })), said];
  };

  /** @param {any} question @returns {Node[]} */
  const troublesField = (question) => {
    const kept = state.answers[question.key] ?? null;
    const now = Object.fromEntries((kept || "").split(", ").filter((one) => one.includes(" ")).map((one) => one.split(" ")));
    return [make("div", { class: "troubles" }, ...question.words.flatMap((/** @type {[string, string]} */ [word, meaning]) => {
      const id = `trouble-${word}`;
      const pick = make("select", { id }, make("option", { value: "" }, "–"),
        ...Array.from({ length: 11 }, (_, number) => make("option", { value: number }, String(number))));
      /** @type {HTMLSelectElement} */ (pick).value = now[word] ?? "";
      pick.addEventListener("change", () => {
        const told = question.words.map((/** @type {[string, string]} */ [part]) => {
          const chosen_one = root.querySelector(`#trouble-${part}`);
          return [part, chosen_one instanceof HTMLSelectElement ? chosen_one.value : ""];
        }).filter((/** @type {string[]} */ [, number]) => number !== "");
        if (told.length) state.answers[question.key] = told.map((/** @type {string[]} */ one) => one.join(" ")).join(", ");
        else delete state.answers[question.key];
        keep();
      });
      return [make("label", { for: id }, meaning || word), pick];
    }))];
  };

  /** @param {any} question @returns {Node[]} */
  const currencyField = (question) => {
    const id = "field-" + question.key;
    const pick = make("select", { id }, make("option", { value: "" }, "–"),
      ...Object.keys(data.currencies).map((code) => make("option", { value: code }, code)));
    /** @type {HTMLSelectElement} */ (pick).value = state.answers[question.key] || "";
    pick.addEventListener("change", () => {
      const code = /** @type {HTMLSelectElement} */ (pick).value;
      if (code) state.answers[question.key] = code;
      else delete state.answers[question.key];
      keep();
    });
    return [make("label", { for: id }, question.ask), pick];
  };

  /** @param {any[]} screen */
  const leaveOut = (screen) => {
    for (const one of screen) {
      state.answers[one.key] = null;
      delete state.typed[one.key];
    }
    done(screen[0].key);
  };

  /** Read all that stands on a screen, and go on where it can be taken. */
  const next = () => {
    const lead = state.at;
    for (const one of (all().find((screen) => screen[0].key === lead) || [])) {
      // A word that was chosen just now may have made this one drop out.
      if (!asked(one, state.answers)) continue;
      if (!take(one)) return;
    }
    done(lead);
  };

  /** @param {any} question @returns {boolean} Whether there is an answer, or none is needed. */
  const take = (question) => {
    const typed = ["measure", "pieces", "money"].includes(question.kind)
      ? state.typed[question.key] ?? null : null;
    const text = (typed || "").trim();
    problem(question, null);
    try {
      if (text) {
        state.answers[question.key] = readAnswer(data, question, withUnit(question, text), state.answers, false);
        delete state.typed[question.key];
      } else if (typed !== null) {
        state.answers[question.key] = null;
        delete state.typed[question.key];
      } else if (!(question.key in state.answers)) {
        state.answers[question.key] = null;
      }
      if (question.needed && state.answers[question.key] === null) {
        delete state.answers[question.key];
        throw new Unreadable(ui.needed);
      }
    } catch (error) {
      if (!(error instanceof Unreadable)) throw error;
      problem(question, error);
      return false;
    }
    return true;
  };

  /** Show what is wrong with an answer, and what may have been meant. @param {any} question @param {Unreadable | null} error */
  const problem = (question, error) => {
    const place = root.querySelector("#" + CSS.escape("problem-" + question.key));
    const field = root.querySelector("#" + CSS.escape("field-" + question.key));
    if (place === null) return;
    place.replaceChildren();
    if (field) field.removeAttribute("aria-invalid");
    if (error === null) return;
    if (field) field.setAttribute("aria-invalid", "true");
    place.append(make("p", {}, make("strong", {}, "! " + (error.note || (error.allowed === ui.needed ? ui.needed : ui.not_taken))),
      error instanceof AskedBack || error.allowed === ui.needed ? "" : " " + fill(ui.allowed, { allowed: error.allowed })));
    const settle = (/** @type {string} */ kept) => {
      state.answers[question.key] = kept;
      delete state.typed[question.key];
      next();
    };
    if (error instanceof AskedBack) {
      const told = (/** @type {string} */ kept) => takenText(data, question, kept).replace(/^[^0-9]*/, "").replace(/\.$/, "");
      place.append(make("div", { class: "actions" },
        button(fill(ui.take, { value: told(error.meant) }), () => settle(error.meant), "strong"),
        error.same && error.same !== error.meant ? button(fill(ui.take, { value: told(error.same) }), () => settle(error.same)) : "",
        button(ui.type_again, () => { if (field instanceof HTMLInputElement) { field.focus(); field.select(); } })));
    }
    const first = place.querySelector("button") || field || root.querySelector(`[data-key="${CSS.escape(question.key)}"] input`);
    if (first instanceof HTMLElement) first.focus({ preventScroll: true });
    // A long list of words may part the two, and the bar with the buttons lies over the foot of the window.
    place.scrollIntoView({ block: "nearest" });
  };

  /** Go on after a screen; answers that no longer hold beside the new ones are asked again. @param {string} lead */
  const done = (lead) => {
    state.answers = stillHeld(data, state.answers);
    if (options.answered) options.answered({ ...state.answers });
    const names = places();
    const after = names[names.indexOf(lead) + 1] || "end";
    const called = all().find((screen) => names.indexOf(screen[0].key) < names.indexOf(lead)
      && screen.some((one) => one.needed && !(one.key in state.answers)));
    if (called) {
      return_to = return_to || after;
      go(called[0].key);
    } else {
      const to = return_to || after;
      return_to = null;
      go(to);
    }
  };

  /** @returns {Node[]} */
  const end = () => {
    const open = all().flat().filter((one) => one.needed && (state.answers[one.key] ?? null) === null);
    const rows = all().flat().map((one) => {
      const kept = state.answers[one.key] ?? null;
      const lead = all().find((screen) => screen.includes(one) || screen.some((each) => each.key === one.key));
      return make("li", {}, make("span", {}, one.ask), make("span", { class: "told" },
        kept === null ? (one.otherwise ? ui.estimated : ui.not_known) : takenText(data, one, kept)),
        button(ui.change, () => go(lead ? lead[0].key : one.key), "link"));
    });
    rows.forEach((row, place) => {
      const change = row.querySelector("button");
      if (change) change.setAttribute("aria-label", `${ui.change}: ${all().flat()[place].ask}`);
    });
    const answers = make("details", { class: "answers" }, make("summary", {}, ui.look_through), make("ul", {}, ...rows));
    if (open.length) {
      return [top(""), ...afterSigns(ui.still_needed, make("ul", {}, ...open.map((one) => make("li", {}, one.ask))),
        make("div", { class: "actions" }, button(ui.go_on, () => go(firstOpen()), "strong")), answers)];
    }
    const text = caseText(data, state.answers);
    const finished = options.finished;
    if (finished) {
      return [top(""), ...afterSigns(ui.ready, answers,
        make("div", { class: "actions" }, button(ui.make_plan, () => finished(text, { ...state.answers }), "strong")))];
    }
    const told = make("p", { role: "status", class: "taken" });
    const area = make("textarea", { readonly: true, rows: 12, id: "case-text", "aria-label": ui.case_text });
    /** @type {HTMLTextAreaElement} */ (area).value = text;
    const copy = async () => {
      let copied = false;
      try {
        await navigator.clipboard.writeText(text);
        copied = true;
      } catch (error) {
        // Not allowed or not there on this telephone: the old way, from the field that shows the text.
        shown.open = true;
        /** @type {HTMLTextAreaElement} */ (area).select();
        copied = document.execCommand("copy");
      }
      told.textContent = copied ? ui.copied : ui.copy_by_hand;
    };
    const save = () => {
      const address = URL.createObjectURL(new Blob([text], { type: "text/yaml" }));
      const link = make("a", { href: address, download: "case.yaml" });
      link.click();
      setTimeout(() => URL.revokeObjectURL(address), 60000);
      told.textContent = ui.saved;
    };
    const file = typeof File === "function" ? new File([text], "case.txt", { type: "text/plain" }) : null;
    const can_share = file !== null && typeof navigator.canShare === "function" && navigator.canShare({ files: [file] });
    const share = async () => {
      try {
        await navigator.share({ files: [/** @type {File} */ (file)], title: ui.title });
        told.textContent = ui.shared_now;
      } catch (error) {
        told.textContent = error instanceof DOMException && error.name === "AbortError" ? "" : ui.not_shared;
      }
    };
    const shown = /** @type {HTMLDetailsElement} */ (make("details", {}, make("summary", {}, ui.case_text), area));
    return [
      top(""), ...afterSigns(ui.ready, make("p", {}, ui.hand_over), make("p", {}, ui.wishes_later),
      make("div", { class: "actions" }, button(ui.save, save, "strong"), can_share ? button(ui.share, share) : "", button(ui.copy, copy)),
      told, shown, answers,
      make("h2", {}, ui.pictures), make("p", {}, ui.pictures_why),
      make("ol", {}, ...ui.picture_steps.map((/** @type {string} */ line) => make("li", {}, line))),
      make("h2", {}, ui.after), make("p", {}, ui.after_why),
      make("div", { class: "actions" }, button(ui.handed_over, erase))),
    ];
  };

  takeUp();
  show();
};

/** The page's own storage; null where the browser gives none. @returns {Storage | null} */
const ownStorage = () => {
  try {
    return window.localStorage;
  } catch (error) {
    if (!(error instanceof DOMException)) throw error;
    return null;
  }
};
