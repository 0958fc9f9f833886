// @ts-check
/* Making the file for one reader to print or hand over, and writing it into the folder. */
import { answered, given, part, refused, say, send, word, work } from "./asking.js";
import { notFitting } from "./fitting.js";

let number = "";

/** @param {string} reader */
async function make(reader) {
  part("made").hidden = true;
  const told = await work("page", { case: given.name, reader }, "working_page");
  if (told !== null && told.state === "no_plan") { notFitting(told.answer, null); return; }
  if (!answered(told, () => make(reader)) || told === null) { return; }
  number = told.answer.number;
  part("made-title").textContent = word("made_for", { reader: word(`for_${reader}`) });
  part("open-made").setAttribute("href", `/made/${number}`);
  part("saved").hidden = true;
  part("made").hidden = false;
  part("made").focus();
}

for (const press of document.querySelectorAll("[data-reader]")) {
  press.addEventListener("click", () => make(String(press.getAttribute("data-reader"))));
}
part("save-made").addEventListener("click", async () => {
  const answer = await send("/keep", { number });
  if (answer.status !== 200) { refused(answer); return; }
  part("saved").textContent = word("saved_made", { file: answer.told.file });
  part("saved").hidden = false;
  say(part("saved").textContent ?? "");
});
