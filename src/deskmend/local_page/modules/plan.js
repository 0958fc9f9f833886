// @ts-check
/* The plan: a slider over every budget, wishes by click, and two plans side by side. */
import { answered, button, fine, given, made, part, problem, refused, say, send, word, work } from "./asking.js";
import { notFitting } from "./fitting.js";

/** @typedef {{must: string[] | null, never: string[] | null, cost: number | null}} Spec */

const slider = /** @type {HTMLInputElement} */ (part("money"));
const FIRST = `deskmend first ${given.name}`;
/** @type {Spec} */
let spec = { must: null, never: null, cost: null };
/** @type {any} */
let shown = null;
let version = "";
let timer = 0;
/** Whether the plan under an emergency was opened. */
let opened_waits = false;

/** Ask for the plan of a spec; what is shown stays until it comes. @param {Spec} wanted */
async function ask(wanted) {
  spec = wanted;
  const told = await work("plan", { case: given.name, ...wanted }, "working_plan", null, "/ask", early);
  if (told === null) { return; }
  if (told.state === "no_plan") { fine(); notFitting(told.answer, free); return; }
  if (!answered(told, () => ask(spec))) { return; }
  version = told.version;
  shown = told.answer;
  show();
}

/** What the plan comes to, before its steps are worked out; those shown are still of the plan before.
 * @param {any} figures */
function early(figures) {
  const before = shown !== null && shown.steps !== undefined;
  shown = { ...shown, ...figures };
  waiting();
  part("money-bar").hidden = false;
  money();
  part("early").textContent = `${figures.told} ${word(before ? "steps_of_before" : "steps_follow")}`;
  part("early").hidden = false;
}

/** Under an emergency the warning stands alone until somebody opens the plan. */
function waiting() {
  document.querySelector("main")?.classList.toggle("waiting", shown.waits && !opened_waits);
  const fold = /** @type {HTMLDetailsElement | null} */ (document.getElementById("waits"));
  if (fold === null) { return; }
  fold.open = opened_waits;
  fold.addEventListener("toggle", () => {
    if (fold.open !== opened_waits) { opened_waits = fold.open; waiting(); }
  });
}

/** @param {string} name */
function free(name) {
  const { must, never } = wishes();
  ask({ ...spec, must: must.filter(one => one !== name), never: never.filter(one => one !== name) });
}

/** Wishes as tried now. @returns {{must: string[], never: string[]}} */
function wishes() {
  return { must: [...(spec.must ?? shown?.must ?? given.must)], never: [...(spec.never ?? shown?.never ?? given.never)] };
}

function show() {
  const focus = document.activeElement instanceof HTMLElement ? document.activeElement.dataset : {};
  const others = /** @type {HTMLDetailsElement | null} */ (document.getElementById("others"));
  const opened = others !== null && others.open;
  part("early").hidden = true;
  part("case-title").textContent = shown.title;
  for (const name of ["notes", "drawing", "steps", "wishes"]) { part(name).innerHTML = shown[name]; }
  waiting();
  part("plan").hidden = false;
  part("money-bar").hidden = false;
  part("keep").hidden = part("drop").hidden = shown.own;
  const anew = /** @type {HTMLDetailsElement | null} */ (document.getElementById("others"));
  if (anew !== null) { anew.open = opened; }
  if (focus.name && focus.wish) {
    for (const one of document.querySelectorAll("[data-wish]")) {
      if (one instanceof HTMLElement && one.dataset.name === focus.name && one.dataset.wish === focus.wish) { one.focus(); }
    }
  }
  money();
  firstKept();
  if (shown.too_dear) { tooDear(); }
  say(shown.told);
}

/** What must be is dearer than the money in hand. */
function tooDear() {
  const dear = shown.rungs[0];
  const must = shown.must.map((/** @type {string} */ name) => button(word("make_free", { title: titleOf(name) }), () => free(name)));
  problem(word("no_fit"), [
    made("ul", { class: "clash" },
      ...shown.must.map((/** @type {string} */ name) => made("li", {}, word("must_line", { title: titleOf(name) }))),
      made("li", {}, word("money_line", { money: shown.in_hand_money }))),
    made("p", {}, word("give_up")),
    made("p", { class: "actions" }, button(word("raise_money", { money: dear.money }), () => { fine(); slider.focus(); }), ...must),
  ]);
}

/** @param {string} name */
function titleOf(name) {
  const found = [...document.querySelectorAll("[data-wish]")].find(one => one instanceof HTMLElement && one.dataset.name === name);
  return found?.closest("fieldset")?.querySelector("legend")?.textContent ?? name;
}

/** The money bar: figures, slider and the stair of all budgets. */
function money() {
  const rungs = shown.rungs, here = rungs[shown.chosen], last = rungs[rungs.length - 1];
  part("amount").textContent = here.money;
  part("summary").textContent = shown.summary;
  slider.min = String(rungs[0].cost);
  slider.max = String(last.cost);
  slider.step = "1";
  slider.value = String(here.cost);
  slider.disabled = rungs.length === 1;
  slider.setAttribute("aria-valuetext", here.words);
  part("least").textContent = rungs[0].money;
  part("most").textContent = last.money;
  /** @type {HTMLButtonElement} */ (part("less")).disabled = shown.chosen === 0;
  /** @type {HTMLButtonElement} */ (part("more")).disabled = shown.chosen === rungs.length - 1;
  curve(rungs, shown.chosen);
}

/** @param {any[]} rungs @param {number} chosen */
function curve(rungs, chosen) {
  const first = rungs[0].cost, span = Math.max(rungs[rungs.length - 1].cost - first, 1);
  const most = Math.max(shown.now_strain, 1);
  /** @param {number} cost */
  const across = cost => 1000 * (cost - first) / span;
  /** @param {number} strain */
  const down = strain => 100 - 95 * strain / most;
  let edge = "";
  rungs.forEach((one, at) => {
    const end = at + 1 < rungs.length ? across(rungs[at + 1].cost) : 1000;
    edge += `${at ? "L" : "M"}${across(one.cost).toFixed(1)} ${down(one.strain).toFixed(1)} L${end.toFixed(1)} ${down(one.strain).toFixed(1)} `;
  });
  const svg = part("curve"), here = rungs[chosen];
  svg.setAttribute("viewBox", "0 0 1000 102");
  const ticks = rungs.map(one => ["line", { class: "tick", x1: across(one.cost), x2: across(one.cost), y1: 94, y2: 101 }]);
  const shapes = [
    ["path", { class: "area", d: `${edge}L1000 101 L0 101 Z` }],
    ["path", { class: "edge", d: edge }],
    ...ticks,
    ["line", { class: "here", x1: across(here.cost), x2: across(here.cost), y1: down(here.strain), y2: 101 }],
  ];
  svg.replaceChildren(...shapes.map(([tag, values]) => {
    const shape = document.createElementNS("http://www.w3.org/2000/svg", String(tag));
    for (const [name, value] of Object.entries(values)) { shape.setAttribute(name, String(value)); }
    return shape;
  }));
}

/** Go to one of the plans; the figures follow at once, the rest as soon as it is worked out. @param {number} number */
function go(number) {
  if (shown === null) { return; }
  const to = Math.max(0, Math.min(number, shown.rungs.length - 1));
  shown.chosen = to;
  const here = shown.rungs[to];
  shown.summary = word("summary_of", { now: shown.now, left: here.left });
  money();
  spec = { ...spec, cost: here.cost };
  clearTimeout(timer);
  timer = setTimeout(() => ask(spec), 150);
}

slider.addEventListener("keydown", event => {
  const last = shown === null ? 0 : shown.rungs.length - 1;
  /** @type {Record<string, number>} */
  const to = { ArrowLeft: shown?.chosen - 1, ArrowDown: shown?.chosen - 1, ArrowRight: shown?.chosen + 1, ArrowUp: shown?.chosen + 1,
    Home: 0, End: last, PageDown: shown?.chosen - 3, PageUp: shown?.chosen + 3 };
  if (shown !== null && event.key in to) { event.preventDefault(); go(to[event.key]); }
});
slider.addEventListener("input", () => {
  if (shown === null) { return; }
  const value = Number(slider.value), here = shown.rungs[shown.chosen].cost;
  let near = shown.chosen;
  shown.rungs.forEach((/** @type {any} */ one, /** @type {number} */ at) => {
    if (Math.abs(one.cost - value) < Math.abs(shown.rungs[near].cost - value)) { near = at; }
  });
  // who steps by a finger's breadth with a screen reader has to get on too
  if (near === shown.chosen && value !== here && Math.abs(value - here) > 0.05 * (Number(slider.max) - Number(slider.min))) {
    near += value > here ? 1 : -1;
  }
  if (near === shown.chosen) { slider.value = String(here); } else { go(near); }
});
part("less").addEventListener("click", () => go(shown.chosen - 1));
part("more").addEventListener("click", () => go(shown.chosen + 1));

part("wishes").addEventListener("click", event => {
  const pressed = event.target instanceof Element ? event.target.closest("[data-wish]") : null;
  if (!(pressed instanceof HTMLElement)) { return; }
  const name = pressed.dataset.name ?? "", wish = pressed.dataset.wish;
  const { must, never } = wishes();
  const wanted = { must: must.filter(one => one !== name), never: never.filter(one => one !== name) };
  if (wish === "must") { wanted.must.push(name); }
  if (wish === "never") { wanted.never.push(name); }
  for (const one of pressed.parentElement?.children ?? []) { one.setAttribute("aria-pressed", String(one === pressed)); }
  ask({ ...spec, ...wanted });
});

part("drop").addEventListener("click", () => ask({ ...spec, must: null, never: null }));
part("keep").addEventListener("click", async () => {
  const answer = await send("/wishes", { case: given.name, version, ...wishes() });
  if (answer.status !== 200) { refused(answer); return; }
  say(word("kept_wishes"));
  await ask({ ...spec, must: null, never: null });
});

/** The first of two plans, kept for this window alone. @returns {{spec: Spec, told: string} | null} */
function first() {
  const kept = sessionStorage.getItem(FIRST);
  return kept === null ? null : JSON.parse(kept);
}

function firstKept() {
  const kept = first();
  part("first").hidden = kept === null;
  part("beside").hidden = kept !== null;
  if (kept !== null) { part("first-told").textContent = word("first_kept", { plan: kept.told }); }
}

part("beside").addEventListener("click", () => {
  const { must, never } = wishes();
  const here = shown.rungs[shown.chosen];
  sessionStorage.setItem(FIRST, JSON.stringify({ spec: { must, never, cost: here.cost }, told: here.words }));
  firstKept();
  part("show-both").focus();
});
part("forget").addEventListener("click", () => {
  sessionStorage.removeItem(FIRST);
  firstKept();
  part("both").hidden = true;
  part("beside").focus();
});
part("show-both").addEventListener("click", async function both() {
  const kept = first();
  if (kept === null) { return; }
  const second = { ...wishes(), cost: shown.rungs[shown.chosen].cost };
  const told = await work("beside", { case: given.name, first: kept.spec, second }, "working_beside");
  if (told !== null && told.state === "no_plan") { notFitting(told.answer, null); return; }
  if (!answered(told, both) || told === null) { return; }
  part("both-shown").innerHTML = told.answer.html;
  part("both").hidden = false;
  part("both-title").focus();
  say(told.answer.told);
});
part("both-close").addEventListener("click", () => {
  part("both").hidden = true;
  part("show-both").focus();
});

ask(spec);
