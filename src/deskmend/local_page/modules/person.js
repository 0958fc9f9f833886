// @ts-check
/* One person of a casebook: looked at again, what was done, how it felt, taken out. */
import { button, given, made, part, say, word } from "./asking.js";
import { onSubmit, typed, workedOut, write, wrote } from "./booking.js";

const WROTE = `deskmend wrote ${given.book} ${given.key}`;
const person = { key: given.key, version: given.version };
let number = "";

/** Show the person as it is now, and what was written. @param {string} text */
function anew(text) {
  sessionStorage.setItem(WROTE, text);
  location.reload();
}

onSubmit("recheck", async form => {
  part("found").hidden = true;
  const asked = { ...typed(form), measured: new FormData(form).has("measured") };
  const found = await workedOut(form, "recheck", { ...asked, ...person }, "working_recheck");
  if (found === null) { return; }
  number = found.number;
  part("found-shown").innerHTML = found.html;
  part("found").hidden = false;
  part("found").focus();
  say(found.told);
});

/** @param {string} id */
const form = id => /** @type {HTMLFormElement} */ (part(id));
part("keep").addEventListener("click", async () => {
  const told = await write(form("recheck"), "/book/visit", { number, version: person.version });
  if (told !== null) { anew(word("visit_written")); }
});
/** Have a file made of the recheck written; its name, or null. @param {string} path */
async function file(path) {
  const told = await write(form("recheck"), path, { number, version: person.version });
  if (told === null) { return null; }
  person.version = told.version;
  wrote(word("saved_made", { file: told.file }));
  return told.file;
}
part("drawn").addEventListener("click", () => file("/book/drawn"));
part("next").addEventListener("click", async () => {
  const name = await file("/book/next");
  if (name === null) { return; }
  const to = made("a", { href: `/plan/${encodeURI(name)}` }, word("open_next"));
  part("wrote").append(" ", to);
  to.focus();
});
onSubmit("visit", async one => {
  const found = await workedOut(one, "visit", { ...typed(one), ...person }, "working_plan");
  if (found === null) { return; }
  const told = await write(one, "/book/visit", { number: found.number, version: person.version });
  if (told !== null) { anew(`${word("visit_written")} ${found.told}`); }
});
onSubmit("done", async one => {
  const { state, paid, why, day, note, other } = typed(one);
  const fixes = [...new FormData(one).getAll("fix").map(String), ...(other ? [other] : [])];
  const told = await write(one, "/book/done", { ...person, fixes, given_up: state === "given_up", paid, why, day, note });
  if (told !== null) { anew(word("done_written")); }
});
onSubmit("felt", async one => {
  const { day, note, ...rated } = typed(one);
  const ratings = Object.fromEntries(Object.entries(rated).filter(([, rating]) => rating !== ""));
  const told = await write(one, "/book/felt", { ...person, ratings, day, note });
  if (told !== null) { anew(word("felt_written")); }
});
onSubmit("erase", async one => {
  const told = await write(one, "/book/erase", { ...person, again: typed(one).again });
  if (told === null) { return; }
  const back = button(word("to_casebook"), () => location.assign(`/casebook/${encodeURIComponent(given.book)}`), "strong");
  part("person").innerHTML = told.html;
  part("person").append(back);
  back.focus();
  say(word("erased"));
});

const written = sessionStorage.getItem(WROTE);
if (written !== null) {
  sessionStorage.removeItem(WROTE);
  wrote(written);
}
