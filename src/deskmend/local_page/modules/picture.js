// @ts-check
/* Measuring from a picture: choose it, set marks by finger, mouse or keys, see what they tell, take it over. */
import { answered, button, faults, given, made, part, problem, refused, say, send, word, work } from "./asking.js";

/** @typedef {[number, number]} XY */

const SVG = "http://www.w3.org/2000/svg";
const LOUPE = 66, LARGER = 3;
/** Where each point is in the small drawing. @type {Record<string, XY>} */
const WHERE = {
  eye: [118, 48], tragus: [100, 50], c7: [88, 74], acromion: [92, 92], elbow: [98, 146], wrist: [146, 136], knuckle: [157, 139],
  trochanter: [92, 184], knee: [160, 176], ankle: [160, 244], seat_front: [146, 196], seat_back: [66, 196],
  desk_edge: [128, 148], desk_underside: [128, 160], screen_top: [204, 70], screen_bottom: [204, 128],
  keys: [158, 142], foot_surface: [166, 258], floor_a: [20, 266], floor_b: [236, 266],
  "top left": [84, 158], "top right": [112, 158], "bottom right": [112, 198], "bottom left": [84, 198],
};
const asked = [...given.corners, ...given.points];
const corners = given.corners.length;
/** Marks in pixels of the upright picture; null: cannot be seen. @type {Record<string, XY | null>} */
const marks = {};
/** @type {Record<string, string>} */
const tapes = {};
let number = 0, picture = "", name = "", version = "", kind = given.sheets[0].kind, faces = "right";
/** @type {XY} */
let size = [1, 1];
/** @type {XY} */
let cross = [0, 0];
let image = "", drawnImage = "";
let timer = 0;

/** @param {string} tag @param {Record<string, string | number>} values @param {string} [text] */
function shape(tag, values, text = "") {
  const element = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(values)) { element.setAttribute(key, String(value)); }
  element.textContent = text;
  return element;
}

// --- choosing -----------------------------------------------------------------------------------------

const file = /** @type {HTMLInputElement} */ (part("file"));
file.addEventListener("change", async () => {
  const chosen = file.files?.[0];
  if (!chosen) { return; }
  name = chosen.name.slice(-100);
  const told = await work("picture", {}, "working_picture", chosen);
  file.value = "";
  if (!answered(told, () => file.click()) || told === null) { return; }
  picture = told.number ?? "";
  version = told.version;
  size = told.answer.size;
  cross = [size[0] / 2, size[1] / 2];
  const photo = part("photo");
  photo.setAttribute("viewBox", `0 0 ${size[0]} ${size[1]}`);
  for (const key of Object.keys(marks)) { delete marks[key]; }
  image = told.answer.image;
  part("choose").hidden = true;
  part("marking").hidden = false;
  part("taking").hidden = part("taken").hidden = true;
  number = 0;
  draw(true);
  part("ground").focus();
});
// --- drawing ------------------------------------------------------------------------------------------

/** Pixels of the picture for one on the screen. */
function scale() {
  return size[0] / Math.max(part("photo").getBoundingClientRect().width, 1);
}

/** @param {boolean} [anew] */
function draw(anew = false) {
  const photo = part("photo");
  const wide = Number(part("marking").clientWidth), beside = innerWidth > 900 ? 0.6 : 1;
  photo.style.width = `${Math.floor(Math.min(wide * beside, 0.7 * Math.max(innerHeight, 500) * size[0] / size[1]))}px`;
  const unit = scale();
  if (drawnImage !== image || photo.childNodes.length === 0) {
    photo.replaceChildren(shape("image", { href: image, width: size[0], height: size[1] }), shape("g", {}));
    part("loupe").replaceChildren(shape("image", { href: image, width: size[0], height: size[1] }), shape("g", {}));
    drawnImage = image;
  }
  const over = [];
  /** @param {XY[]} line @param {string} type */
  const lined = (line, type) => ["halo", type].map(one => shape("polyline", {
    class: one, points: line.map(at => at.join(",")).join(" "), "stroke-width": (one === "halo" ? 5 : 2) * unit }));
  const sheet = given.corners.map((/** @type {any} */ one) => marks[one.name]).filter(Boolean);
  if (sheet.length > 1) { over.push(...lined(sheet.length === corners ? [...sheet, sheet[0]] : sheet, "ink")); }
  for (const [from, to] of given.lines) {
    const a = marks[from], b = marks[to];
    if (a && b) { over.push(...lined([a, b], "ink")); }
  }
  asked.forEach((one, at) => {
    const place = marks[one.name];
    if (!place || at === number) { return; }
    const [x, y] = place, r = 7 * unit;
    const sign = at < corners ? ["rect", { x: x - r, y: y - r, width: 2 * r, height: 2 * r }] : ["circle", { cx: x, cy: y, r }];
    for (const type of ["halo", "ink"]) {
      over.push(shape(String(sign[0]), { ...Object(sign[1]), class: type, "stroke-width": (type === "halo" ? 5 : 2) * unit }));
    }
    for (const type of ["halo", "words"]) {
      over.push(shape("text", { class: `${type} number`, x: x + 10 * unit, y: y - 8 * unit, "font-size": 14 * unit, "stroke-width": 4 * unit }, String(at + 1)));
    }
  });
  const [x, y] = cross, long = 14 * unit;
  for (const type of ["halo", "ink"]) {
    over.push(shape("path", { class: type, d: `M${x - long} ${y}H${x + long}M${x} ${y - long}V${y + long}`, "stroke-width": (type === "halo" ? 5 : 2) * unit }));
  }
  /** @type {Element} */ (photo.lastChild).replaceChildren(...over);
  loupe(unit);
  if (anew) { tell(); }
}

/** What lies about the cross, larger, in the corner that is farthest from it. @param {number} unit */
function loupe(unit) {
  const half = LOUPE * unit / LARGER, [x, y] = cross, glass = part("loupe");
  glass.setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
  glass.classList.toggle("on-left", x > size[0] / 2);
  glass.classList.toggle("below", y < size[1] / 2);
  /** @type {Element} */ (glass.lastChild).replaceChildren(...["halo", "ink"].map(type => shape("path", {
    class: type, d: `M${x - half} ${y}H${x + half}M${x} ${y - half}V${y + half}`, "stroke-width": (type === "halo" ? 3 : 1) * unit / LARGER })));
}

/** Say which mark is asked for. */
function tell() {
  const one = asked[number];
  const done = one === undefined;
  part("mark-number").textContent = done ? "" : word("mark_number", { number: String(number + 1), whole: String(asked.length) });
  part("mark-name").textContent = done ? word("marks_done") : one.words[0].toUpperCase() + one.words.slice(1);
  part("mark-help").textContent = done ? "" : one.help;
  part("set").textContent = word("mark_set", { number: String(number + 1) });
  for (const id of ["set", "not-seen", "where"]) { part(id).toggleAttribute("hidden", done); }
  part("marks").replaceChildren(...asked.map((each, at) => {
    const state = each.name in marks ? (marks[each.name] ? word("set_word") : word("not_seen_word")) : word("open_word");
    const press = button(`${at + 1}. ${each.words}`, () => choose(at), "plain");
    if (at === number) { press.setAttribute("aria-current", "step"); }
    return made("li", {}, press, " ", made("span", { class: "note" }, state));
  }));
  where();
}

/** The small drawing with the point that is asked for. */
function where() {
  const one = asked[number];
  if (one === undefined) { return; }
  const [x, y] = WHERE[one.name];
  const line = (/** @type {string[]} */ names) => shape("polyline", { class: "ink", points: names.map(each => WHERE[each].join(",")).join(" "), "stroke-width": 3 });
  const sheet = given.corners.map((/** @type {any} */ each) => each.name);
  part("where").replaceChildren(
    shape("circle", { class: "ink", cx: 102, cy: 44, r: 20, "stroke-width": 3 }),
    ...[["c7", "tragus"], ["c7", "acromion", "elbow", "wrist", "knuckle"], ["acromion", "trochanter", "knee", "ankle"], ["seat_back", "seat_front"],
      ["screen_top", "screen_bottom"], ["floor_a", "floor_b"]].map(line),
    shape("path", { class: "ink", d: "M128 148H232M128 160H232M128 148V160M222 160V266M66 196L58 110M70 196V266M142 196V266M150 258H186", "stroke-width": 3 }),
    ...(number < corners ? [line([...sheet, sheet[0]])] : []),
    shape("circle", { class: "point", cx: x, cy: y, r: 9, "stroke-width": 4 }));
}

// --- setting ------------------------------------------------------------------------------------------

/** @param {number} at */
function choose(at) {
  number = at;
  const there = marks[asked[at]?.name];
  if (there) { cross = [...there]; }
  draw(true);
  part("ground").focus();
}

/** @param {XY | null} place */
function mark(place) {
  const one = asked[number];
  if (one === undefined) { return; }
  marks[one.name] = place;
  say(word(place ? "mark_is_set" : "mark_not_seen", { name: one.words }));
  let next = number + 1;
  while (next < asked.length && asked[next].name in marks) { next += 1; }
  number = next < asked.length ? next : asked.findIndex(each => !(each.name in marks));
  if (number < 0) { number = asked.length; }
  draw(true);
  later(700);
}

/** @param {number} across @param {number} down */
function move(across, down) {
  cross = [Math.min(Math.max(cross[0] + across, 0), size[0]), Math.min(Math.max(cross[1] + down, 0), size[1])];
  draw();
}

const ground = part("ground");
/** @param {PointerEvent} event */
function follow(event) {
  const box = part("photo").getBoundingClientRect(), unit = scale();
  cross = [Math.min(Math.max((event.clientX - box.left) * unit, 0), size[0]), Math.min(Math.max((event.clientY - box.top) * unit, 0), size[1])];
  draw();
}
ground.addEventListener("pointerdown", event => {
  if (event.button !== 0) { return; }
  ground.setPointerCapture(event.pointerId);
  ground.focus();
  follow(event);
  event.preventDefault();
});
ground.addEventListener("pointermove", event => { if (ground.hasPointerCapture(event.pointerId)) { follow(event); } });
ground.addEventListener("keydown", event => {
  const step = (event.shiftKey ? 10 : 1) * Math.max(scale(), 1);
  /** @type {Record<string, XY>} */
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  if (event.key in ways) { event.preventDefault(); move(ways[event.key][0] * step, ways[event.key][1] * step); }
  if (event.key === "Enter" && number < asked.length) { event.preventDefault(); mark([...cross]); }
});
for (const arrow of document.querySelectorAll("[data-move]")) {
  const [across, down] = String(arrow.getAttribute("data-move")).split(" ").map(Number);
  arrow.addEventListener("click", () => move(across * Math.max(scale(), 1), down * Math.max(scale(), 1)));
}
part("set").addEventListener("click", () => mark([...cross]));
part("not-seen").addEventListener("click", () => mark(null));
window.addEventListener("resize", () => { if (image) { draw(); } });

// --- what else is told --------------------------------------------------------------------------------

part("sheets").replaceChildren(...given.sheets.map((/** @type {any} */ sheet) => {
  const press = made("button", { type: "button", "data-kind": sheet.kind, "aria-pressed": String(sheet.kind === kind) },
    made("span", { "aria-hidden": "true" }, "✓ "), sheet.words);
  press.addEventListener("click", () => { kind = sheet.kind; pressed("sheets", press); });
  return press;
}));
for (const side of document.querySelectorAll("[data-faces]")) {
  side.addEventListener("click", () => { faces = String(side.getAttribute("data-faces")); pressed("faces", side); });
}

/** @param {string} group @param {Element} one */
function pressed(group, one) {
  for (const each of part(group).children) { each.setAttribute("aria-pressed", String(each === one)); }
  later(0);
}

part("tape-name").replaceChildren(...given.tapes.map((/** @type {any} */ tape) => made("option", { value: tape.name }, tape.words)));
/** @type {HTMLSelectElement} */ (part("tape-name")).value = "desk_height";
part("tape-set").addEventListener("click", () => {
  const value = /** @type {HTMLInputElement} */ (part("tape")).value.trim();
  if (!value) { return; }
  tapes[/** @type {HTMLSelectElement} */ (part("tape-name")).value] = value;
  taped();
  later(0);
});

function taped() {
  part("tapes").replaceChildren(...Object.entries(tapes).map(([key, value]) => {
    const words = given.tapes.find((/** @type {any} */ one) => one.name === key).words;
    return made("li", {}, word("tape_told", { name: words, value }), " ",
      button(word("tape_away", { name: words }), () => { delete tapes[key]; taped(); later(0); }));
  }));
}

// --- measuring and taking over ------------------------------------------------------------------------

/** @param {number} milliseconds */
function later(milliseconds) {
  clearTimeout(timer);
  timer = setTimeout(measure, milliseconds);
}

/** Marks as a marks file has them; null while the sheet is not marked, or no point. */
function content() {
  const sheet = given.corners.map((/** @type {any} */ one) => marks[one.name]);
  const points = given.points.filter((/** @type {any} */ one) => marks[one.name]);
  if (sheet.some((/** @type {any} */ one) => !one) || !points.length) { return null; }
  const pixel = (/** @type {XY} */ at) => at.map(one => String(Math.round(one * 10) / 10));
  return {
    format: "deskmend-marks/1", picture: name, person_faces: faces,
    sheet: { kind, corners: sheet.map(pixel) },
    points: Object.fromEntries(points.map((/** @type {any} */ one) => [one.name, pixel(/** @type {XY} */ (marks[one.name]))])),
    ...(Object.keys(tapes).length ? { taped: tapes } : {}),
  };
}

async function measure() {
  const told_marks = content();
  if (told_marks === null) { return; }
  const told = await work("measure", { case: given.name, picture, marks: told_marks, place: place.value }, "working_measures");
  if (told === null) { return; }
  part("taking").hidden = told.state !== "done";
  if (told.state === "faults") {
    part("measured").replaceChildren(made("div", { class: "error" }, made("h3", {}, `! ${word("marks_unfit")}`), faults(told.answer.faults)));
    say(word("marks_unfit"));
    return;
  }
  if (!answered(told, measure)) { return; }
  version = told.version;
  part("measured").innerHTML = told.answer.html;
  say(told.answer.told);
}

const place = /** @type {HTMLSelectElement} */ (part("place"));
place.replaceChildren(...given.places.map((/** @type {string} */ one) => made("option", { value: one }, one)));
part("place-part").hidden = given.places.length < 2;
place.addEventListener("change", () => later(0));
const confirmed = /** @type {HTMLInputElement} */ (part("confirmed"));
const take = /** @type {HTMLButtonElement} */ (part("take"));
confirmed.addEventListener("change", () => { take.disabled = !confirmed.checked; });

take.addEventListener("click", async () => {
  const told_marks = content();
  if (told_marks === null) { return; }
  const told = await work("take", { case: given.name, picture, marks: told_marks, place: place.value }, "working_measures");
  if (!answered(told, () => take.click()) || told === null) { return; }
  if (told.version !== version) { problem(word("changed"), [button(word("read_anew"), () => location.reload(), "strong")]); return; }
  const answer = await send("/take", { case: given.name, number: told.answer.number, version, picture });
  if (answer.status !== 200) { refused(answer); return; }
  version = answer.told.version;
  away();
  part("taken").innerHTML = told.answer.html;
  part("taken").append(made("p", { class: "actions" }, made("a", { class: "button strong", href: `/plan/${encodeURI(given.name)}` }, word("open_plan"))));
  part("marking").hidden = false;
  for (const child of part("marking").children) { /** @type {HTMLElement} */ (child).hidden = child !== part("taken"); }
  part("taken").hidden = false;
  part("taken").focus();
});

/** Forget the picture, here and at the server. */
function away() {
  send("/drop", { picture });
  picture = image = drawnImage = "";
  part("photo").replaceChildren();
  part("loupe").replaceChildren();
}

part("away").addEventListener("click", () => { away(); location.reload(); });
