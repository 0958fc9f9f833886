// @ts-check
/* What strains: asked once, shown as it comes. */
import { answered, given, part, say, work } from "./asking.js";

async function look() {
  const told = await work("strain", { case: given.name }, "working_strain");
  if (!answered(told, look) || told === null) { return; }
  part("shown").innerHTML = told.answer.html;
  part("case-title").textContent = told.answer.title;
  say(told.answer.told);
}

look();
