// @ts-check
/* Questions to the server behind this page, what it answers, and what is shown meanwhile. */

/** @typedef {{state: string, answer: any, early?: any, seconds: number, done: number, whole: number, version: string, number?: string}} Told */

/** What this screen was told when it was made. @type {any} */
export const given = JSON.parse(part("given").textContent ?? "{}");

/** @param {string} id @returns {HTMLElement} */
export function part(id) {
  const found = document.getElementById(id);
  if (!found) { throw new Error(`no ${id} on this screen`); }
  return found;
}

/** A sentence of the page, with its braces filled. @param {string} key @param {Record<string, string>} [values] */
export function word(key, values = {}) {
  return String(given.words[key]).replace(/\{([a-z_]+)\}/g, (whole, name) => values[name] ?? whole);
}

/** Say something once to who cannot see it. @param {string} text */
export function say(text) {
  part("said").textContent = text;
}

/** An element with text or other elements in it.
 * @param {string} tag @param {Record<string, string>} attributes @param {...(Node|string)} inside */
export function made(tag, attributes, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) { element.setAttribute(name, value); }
  element.append(...inside);
  return element;
}

/** A change, or a question to the engine. @param {string} path @param {any} body @param {boolean} [bytes] */
export async function send(path, body, bytes = false) {
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "content-type": bytes ? "application/octet-stream" : "application/json", "x-deskmend-page": given.secret },
      body: bytes ? body : JSON.stringify(body),
      redirect: "error",
    });
    const told = await answer.text();
    return { status: answer.status, told: answer.ok ? JSON.parse(told) : told.trim() };
  } catch {
    return { status: 0, told: word("unreachable") };
  }
}

/** @param {number} milliseconds */
function pause(milliseconds) {
  return new Promise(done => setTimeout(done, milliseconds));
}

let turn = 0;

/** Ask the engine something and wait for it; null where a newer question came meanwhile.
 * @param {string} what @param {any} asked @param {string} busy @param {any} [bytes] @param {string} [path]
 * @param {((early: any) => void) | null} [known]  Called with what is known before the rest.
 * @returns {Promise<Told | null>} */
export async function work(what, asked, busy, bytes = null, path = "/ask", known = null) {
  const mine = ++turn;
  const began = bytes === null ? await send(path, { what, ...asked }) : await send(`/pictures/${encodeURI(given.name)}`, bytes, true);
  if (mine !== turn) { if (began.status === 200) { send("/stop", { number: began.told.number, waiting_only: true }); } return null; }
  if (began.status !== 200) {
    return { state: "refused", answer: began.told, seconds: 0, done: 0, whole: 0, version: "" };
  }
  const { number, version } = began.told;
  const box = part("busy");
  part("busy-stop").onclick = () => send("/stop", { number, waiting_only: false });
  let heard = known === null;
  try {
    for (;;) {
      const told = await howFar(number, heard);
      if (mine !== turn) { send("/stop", { number, waiting_only: true }); return null; }
      if (told.early && known !== null && !heard) { heard = true; known(told.early); }
      if (!["waiting", "working"].includes(told.state)) { return { ...told, version, number }; }
      if (told.seconds > 0.7) { showBusy(told, busy); }
    }
  } finally {
    if (mine === turn) { box.hidden = true; }
  }
}

/** How far a question is. @param {string} number @param {boolean} heard @returns {Promise<Told>} */
async function howFar(number, heard) {
  try {
    const answer = await fetch(`/asked/${number}${heard ? "?early" : ""}`, { redirect: "error" });
    if (answer.ok) { return await answer.json(); }
    return { state: "refused", answer: (await answer.text()).trim(), seconds: 0, done: 0, whole: 0, version: "" };
  } catch {
    await pause(200);
    return { state: "refused", answer: word("unreachable"), seconds: 0, done: 0, whole: 0, version: "" };
  }
}

/** @param {Told} told @param {string} busy */
function showBusy(told, busy) {
  const box = part("busy");
  const share = /** @type {HTMLProgressElement} */ (part("busy-share"));
  // at first there is nothing that could stay
  const places = ["shown", "plan", "answers"].map(id => document.getElementById(id)).filter(one => one !== null);
  part("busy-stays").hidden = places.some(one => one.hidden || one.childNodes.length === 0);
  if (box.hidden) { part("busy-title").textContent = word(busy); box.hidden = false; say(word(busy)); }
  if (told.whole > 0) { share.max = told.whole; share.value = told.done; } else { share.removeAttribute("value"); }
  part("busy-seconds").textContent = word("seconds", { seconds: String(Math.floor(told.seconds)) });
}

/** Show a problem, with buttons that help. @param {string} title @param {Node[]} inside */
export function problem(title, inside) {
  const box = part("problem");
  box.replaceChildren(made("h2", {}, `! ${title}`), ...inside);
  box.hidden = false;
  box.focus();
}

export function fine() {
  part("problem").hidden = true;
}

/** A button. @param {string} text @param {() => void} press @param {string} [kind] */
export function button(text, press, kind = "") {
  const element = made("button", { type: "button", class: kind }, text);
  element.addEventListener("click", press);
  return element;
}

/** Show what became of a question that was not answered; true where there is an answer.
 * @param {Told | null} told @param {() => void} again */
export function answered(told, again) {
  if (told === null) { return false; }
  if (told.state === "done") { fine(); return true; }
  const retry = button(word("again"), again, "strong");
  if (told.state === "stopped") { problem(word("stopped"), [retry]); }
  else if (told.state === "faults") { problem(word("faults"), [faults(told.answer.faults), retry]); }
  else { problem(word("defect"), [made("p", {}, String(told.answer)), retry]); }
  return false;
}

/** @param {any[]} found */
export function faults(found) {
  return made("ul", {}, ...found.map(one => {
    const where = [one.where, one.line === null ? "" : word("fault_line", { line: String(one.line) })].filter(Boolean).join(", ");
    const read = one.read === null ? "" : word("fault_read", { read: one.read });
    const allowed = one.allowed ? word("fault_allowed", { allowed: one.allowed }) : "";
    return made("li", {}, made("b", {}, where), " ", [one.note ? `${one.note}.` : "", read, allowed, one.hint].filter(Boolean).join(" "));
  }));
}

/** Tell that a change was not written. @param {{status: number, told: any}} answer */
export function refused(answer) {
  if (answer.status === 409) {
    problem(String(answer.told), [button(word("read_anew"), () => location.reload(), "strong")]);
  } else {
    problem(word("defect"), [made("p", {}, String(answer.told))]);
  }
}
