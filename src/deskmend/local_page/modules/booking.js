// @ts-check
/* What the screens of a casebook share: forms that are sent whole, and faults told beside them. */
import { answered, faults, given, made, part, refused, say, send, word, work } from "./asking.js";
import { notFitting } from "./fitting.js";

/** What stands in a form, by name. @param {HTMLFormElement} form @returns {Record<string, string>} */
export function typed(form) {
  /** @type {Record<string, string>} */
  const out = {};
  for (const [name, value] of new FormData(form)) { out[name] = String(value).trim(); }
  return out;
}

/** Show what is wrong with a form, or nothing. @param {HTMLFormElement} form @param {any[] | null} found */
export function wrong(form, found) {
  const error = /** @type {HTMLElement} */ (form.querySelector(".error"));
  error.hidden = found === null;
  error.replaceChildren(...(found === null ? [] : [made("p", {}, made("b", {}, `! ${word("not_taken")}`)), faults(found)]));
  if (found !== null) { /** @type {HTMLElement | null} */ (form.querySelector("input, select"))?.focus(); }
}

/** Send a change; what was told where it was written, else null. @param {HTMLFormElement} form @param {string} path @param {any} body */
export async function write(form, path, body) {
  const buttons = /** @type {NodeListOf<HTMLButtonElement>} */ (form.querySelectorAll("button"));
  for (const one of buttons) { one.disabled = true; }
  const answer = await send(path, { book: given.book, ...body });
  for (const one of buttons) { one.disabled = false; }
  if (answer.status !== 200) { refused(answer); return null; }
  wrong(form, answer.told.faults ?? null);
  return answer.told.faults ? null : answer.told;
}

/** Have a visit or a recheck worked out; its answer, or null where there is none.
 * @param {HTMLFormElement} form @param {string} what @param {any} body @param {string} busy */
export async function workedOut(form, what, body, busy) {
  wrong(form, null);
  const told = await work(what, { book: given.book, ...body }, busy, null, "/book/ask");
  if (told !== null && told.state === "no_plan") { notFitting(told.answer, null); return null; }
  if (told !== null && told.state === "faults") { wrong(form, told.answer.faults); return null; }
  if (!answered(told, () => form.requestSubmit()) || told === null) { return null; }
  return told.answer;
}

/** Say that something was written, there and once aloud. @param {string} text */
export function wrote(text) {
  part("wrote").textContent = text;
  part("wrote").hidden = false;
  say(text);
}

/** @param {string} id @param {(form: HTMLFormElement) => void} act */
export function onSubmit(id, act) {
  const form = document.getElementById(id);
  if (form instanceof HTMLFormElement) {
    form.addEventListener("submit", event => { event.preventDefault(); act(form); });
  }
}
