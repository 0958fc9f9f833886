// @ts-check
/* A new case: the questions of the form, and the file that they end in. */
import { fine, given, part, problem, refused, send } from "./asking.js";
import { startForm } from "./questions.js";

const KEPT = "deskmend-answers/1";

/** @param {string} text */
async function finished(text) {
  const name = /** @type {HTMLInputElement} */ (part("name"));
  fine();
  const answer = await send("/begin", { name: name.value, text });
  if (answer.status === 400 || answer.status === 409) { problem(String(answer.told), []); name.focus(); return; }
  if (answer.status !== 200) { refused(answer); return; }
  sessionStorage.removeItem(KEPT);
  location.assign(`/plan/${encodeURIComponent(answer.told.case)}`);
}

startForm(part("form"), given.questions, {
  storage: sessionStorage, finished, shown: at => { part("naming").hidden = at !== "end"; },
});
