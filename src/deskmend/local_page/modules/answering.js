// @ts-check
/* Answers of a case, changed one by one; the plan is worked out again after each. */
import { answered, button, fine, given, made, part, refused, say, send, word, work } from "./asking.js";
import { notFitting } from "./fitting.js";

let version = "";

async function readAll() {
  const told = await work("answers", { case: given.name }, "working_answers");
  if (!answered(told, readAll) || told === null) { return; }
  version = told.version;
  const focus = document.activeElement instanceof HTMLElement ? document.activeElement.id : "";
  part("answers").innerHTML = told.answer.html;
  if (focus) { document.getElementById(focus)?.focus(); }
}

/** @param {HTMLFormElement} form @param {string} text @param {boolean} sure */
async function take(form, text, sure) {
  const error = /** @type {HTMLElement} */ (form.querySelector(".error"));
  const field = /** @type {HTMLInputElement} */ (form.elements.namedItem("text") ?? form.querySelector("button, input, select"));
  const { where, key } = form.dataset;
  const answer = await send("/answer", { case: given.name, version, where, key, text, sure, meant: form.dataset.meant ?? "" });
  if (answer.status !== 200) { refused(answer); return; }
  const told = answer.told;
  if (told.version === undefined) {
    form.dataset.meant = told.meant;
    const says = [told.allowed ? word("fault_allowed", { allowed: told.allowed }) : "", told.hint].filter(Boolean).join(" ");
    const ways = told.meant ? [made("p", { class: "actions" },
      button(word("take_meant", { value: told.words }), () => take(form, told.meant, true), "strong"),
      button(word("type_again"), () => { field.focus(); field.select(); }))] : [];
    error.replaceChildren(made("p", {}, made("b", {}, `! ${told.note || word("not_taken")}`)), made("p", {}, says), ...ways);
    error.hidden = false;
    field.setAttribute("aria-invalid", "true");
    (error.querySelector("button") ?? field).focus();
    return;
  }
  version = told.version;
  const { id } = field, answered_with = field.dataset.answer;
  await readAll();
  const again = [...document.querySelectorAll("form")].find(one => one.dataset.where === where && one.dataset.key === key);
  const there = answered_with === undefined ? document.getElementById(id) : again?.querySelector('[aria-pressed="true"]');
  if (there instanceof HTMLElement) { there.focus(); } else { again?.querySelector("summary")?.focus(); }
  await plan();
}

/** Nothing is typed: say so, and offer to take out the answer there is. @param {HTMLFormElement} form */
function nothing(form) {
  const error = /** @type {HTMLElement} */ (form.querySelector(".error"));
  const field = /** @type {HTMLInputElement} */ (form.elements.namedItem("text"));
  error.replaceChildren(made("p", {}, made("b", {}, `! ${word("nothing_typed")}`)), ...("mayGo" in form.dataset
    ? [made("p", { class: "actions" }, button(word("take_unknown"), () => take(form, "", false)))] : []));
  error.hidden = false;
  field.focus();
}

/** What stands in a form, as it would be typed. @param {HTMLFormElement} form */
function typed(form) {
  const told = new FormData(form);
  if (form.dataset.kind === "several") { return told.getAll("several").join(", "); }
  if (form.dataset.kind === "numbers") {
    return [...told].filter(([, number]) => number !== "").map(([part, number]) => `${part} ${number}`).join(", ");
  }
  return String(told.get("text") ?? "").trim();
}

/** What the plan comes to with the answers as they are. */
async function plan() {
  const told = await work("plan", { case: given.name, must: null, never: null, cost: null }, "working_plan", null, "/ask", comesTo);
  if (told !== null && told.state === "no_plan") { notFitting(told.answer, null); return; }
  if (!answered(told, plan) || told === null) { return; }
  fine();
  comesTo(told.answer);
  part("case-title").textContent = told.answer.title;
  say(told.answer.told);
}

/** Known before the steps of the plan are. @param {any} figures */
function comesTo(figures) {
  part("told").replaceChildren(`${figures.told} `, made("a", { href: `/plan/${encodeURI(given.name)}` }, word("see_plan")));
  part("told").hidden = false;
}

part("answers").addEventListener("submit", event => {
  event.preventDefault();
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) { return; }
  const text = typed(form);
  if (form.dataset.kind === "typed" && text === "") { nothing(form); } else { take(form, text, false); }
});
part("answers").addEventListener("click", event => {
  const pressed = event.target instanceof Element ? event.target.closest("[data-answer]") : null;
  const form = pressed?.closest("form");
  if (pressed instanceof HTMLElement && form) { take(form, pressed.dataset.answer ?? "", false); }
});
// none of these, or some of them: never both
part("answers").addEventListener("change", event => {
  const box = event.target;
  if (!(box instanceof HTMLInputElement) || box.name !== "several" || !box.checked) { return; }
  for (const one of /** @type {NodeListOf<HTMLInputElement>} */ (box.form?.querySelectorAll('[name="several"]') ?? [])) {
    if (one !== box && (box.value === "none" || one.value === "none")) { one.checked = false; }
  }
});

readAll();
