// @ts-check
/* The list of cases: an example for who has none. */
import { part, refused, send } from "./asking.js";

const example = document.getElementById("example");
if (example) {
  example.addEventListener("click", async () => {
    const answer = await send("/example", {});
    if (answer.status === 200) { location.reload(); } else { refused(answer); }
  });
}
part("main");
