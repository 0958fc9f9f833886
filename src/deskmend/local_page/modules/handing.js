// @ts-check
/* Making the file to print or hand over, and writing it into the folder. */
import { answered, given, part, problem, refused, say, send, word, work } from "./asking.js";
import { notFitting } from "./fitting.js";

let number = "";

async function make() {
  part("made").hidden = true;
  const told = await work("page", { case: given.name }, "working_page");
  if (told !== null && told.state === "no_plan") { notFitting(told.answer, null); return; }
  if (!answered(told, make) || told === null) { return; }
  number = told.answer.number;
  part("open-made").setAttribute("href", `/made/${number}`);
  part("saved").hidden = true;
  part("made").hidden = false;
  part("open-made").focus();
}

part("make").addEventListener("click", make);
part("save-made").addEventListener("click", async () => {
  const answer = await send("/keep", { number });
  if (answer.status !== 200) { refused(answer); return; }
  part("saved").textContent = word("saved_made", { file: answer.told.file });
  part("saved").hidden = false;
  say(part("saved").textContent ?? "");
});
