// @ts-check
/* A casebook: a first visit, and files of what it teaches and what may be shared of it. */
import { given, word } from "./asking.js";
import { onSubmit, typed, workedOut, write, wrote } from "./booking.js";

onSubmit("visit", async form => {
  const found = await workedOut(form, "visit", { ...typed(form), version: "" }, "working_plan");
  if (found === null) { return; }
  const told = await write(form, "/book/visit", { number: found.number, version: "" });
  if (told !== null) { location.assign(`/casebook/${encodeURIComponent(given.book)}/${encodeURIComponent(told.key)}`); }
});
for (const what of ["learn", "share"]) {
  onSubmit(what, async form => {
    const told = await write(form, `/book/${what}`, typed(form));
    if (told !== null) { wrote(word("saved_made", { file: told.file })); }
  });
}
