// Answers as people write them, and the case that they make: the same rules, figures and bytes as
// deskmend.intake.typed_answers, intake.interview and report.forms.interview. Knows nothing of any page.

/** @typedef {Object<string, string | null>} Answers  What is kept by question; null where left out. */
/** @typedef {{kind: string, low: number, high: number}} Limits */

/** An answer that cannot be taken. */
export class Unreadable extends Error {
  /** @param {string} allowed @param {string} [note] */
  constructor(allowed, note) {
    super((note ? note + " " : "") + allowed);
    this.allowed = allowed;
    this.note = note || "";
  }
}

/** An answer that may be meant otherwise, or is unlikely. */
export class AskedBack extends Unreadable {
  /** @param {string} meant  What a yes takes. @param {string} note @param {string} allowed @param {string} same */
  constructor(meant, note, allowed, same) {
    super(allowed, note);
    this.meant = meant;
    /** What was written, where it is possible too; empty where it is not. */
    this.same = same;
  }
}

const NUMBER = "(?:[0-9]{1,6}(?:\\.[0-9]{1,6})?|\\.[0-9]{1,6})";
const SINGLE = new RegExp(`^(${NUMBER}) *([^0-9 .,+-][^0-9.,+-]*)?$`);
const FEET = new RegExp(`^([0-9]{1,2}) *(?:ft|foot|feet|'|pies?) *(${NUMBER}) *(?:in|inch|inches|"|pulgadas?)?$`);
const METRES = /^([0-9]) *m *([0-9]{2})(?: *cm)?$/;
const CLOCK = /^([0-9]{1,2}) *(?:h|:) *([0-5][0-9])(?: *min)?$/;
const PIECE = new RegExp(`^(?:([0-9]{1,2}) *[x×*] *)?(${NUMBER})(?: *(mm|cm|m|in|inch|inches|pulgadas?|"))?(?= |$)`);
const TERM = /^(?:(?:([0-9]{1,3}(?:\.[0-9]{1,3})?) *)?(a4|letters?|cards?)|([0-9]{1,4}(?:\.[0-9]{1,3})?) *(?:mm)?)$/;
const PLAIN = /^[A-Za-z0-9_.](?:[A-Za-z0-9_. ]*[A-Za-z0-9_.])?$/;
const NOTHING = "none";
const LONGEST = 400;

/** @param {string} text @param {Object<string, string | number>} values */
export const fill = (text, values) =>
  text.replace(/\{([a-z_]+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));

/** Decimal text without idle zeros. @param {number} value @param {number} decimals */
const plainNumber = (value, decimals) => {
  const text = value.toFixed(decimals);
  return text.includes(".") ? text.replace(/0+$/, "").replace(/\.$/, "") : text;
};

/** @param {any} data @param {string} text */
export const shownNumber = (data, text) => text.replace(".", data.decimal_sign);

/** @param {any} data @param {number} value @param {string} kind */
const keptNumber = (data, value, kind) => {
  const decimals = data.decimals[kind];
  const power = Math.pow(10, decimals);
  return plainNumber(Math.floor(value * power + 0.5) / power, decimals);
};

/** Whole number nearest, of two the even one. @param {number} value */
const nearest = (value) => {
  const low = Math.floor(value);
  return value - low === 0.5 ? low + (low % 2) : Math.round(value);
};

/** @param {any} data @param {number} mm @param {string} unit */
const lengthText = (data, mm, unit) =>
  unit === "in" ? shownNumber(data, plainNumber(mm / 25.4, 1)) + " in" : nearest(mm) + " mm";

/** @param {any} data @param {string} kept @param {string} kind */
const valueText = (data, kept, kind) => {
  if (kind === "length") return lengthText(data, Number(kept), data.unit);
  const words = { hours: data.messages.hours, minutes: data.messages.minutes }[kind] || "{number}";
  return fill(words, { number: shownNumber(data, kept) });
};

/** @param {any} data @param {Limits} limits */
const rangeText = (data, limits) =>
  fill(data.messages.range, {
    low: shownNumber(data, plainNumber(limits.low, 3)),
    high: valueText(data, plainNumber(limits.high, 3), limits.kind),
  });

/** @param {number} value @param {Limits | null} limits */
const within = (value, limits) => limits !== null && limits.low <= value && value <= limits.high;

/** @param {any} data @param {string} text */
const laidLength = (data, text) => {
  const parts = text.toLowerCase().split("+");
  if (parts.length > 6) return null;
  let total = 0;
  let laid = false;
  for (const part of parts) {
    const term = TERM.exec(part.trim());
    if (term === null) return null;
    if (term[2]) {
      total += Number(term[1] || 1) * data.rulers[term[2].replace(/s$/, "")];
      laid = true;
    } else {
      total += Number(term[3]);
    }
  }
  return laid ? keptNumber(data, total, "length") : null;
};

/** @param {string} text */
const plainText = (text) => {
  let plain = text.toLowerCase().trim().split(/\s+/).join(" ");
  plain = plain.replace(/[’′]/g, "'").replace(/[”″]/g, '"').replace(/''/g, '"');
  return plain.split(",").length === 2 ? plain.replace(/([0-9]),(?=[0-9])/, "$1.") : plain;
};

/** Value in the unit kept, and the bare number where no unit stands behind it.
 * @param {any} data @param {string} text @param {Limits} limits @returns {[number, number | null]} */
const amountOf = (data, text, limits) => {
  const kind = limits.kind;
  const plain = plainText(text);
  if (kind === "length") {
    const feet = FEET.exec(plain);
    if (feet && Number(feet[2]) < 12) return [Number(feet[1]) * 304.8 + Number(feet[2]) * 25.4, null];
    const metres = METRES.exec(plain);
    if (metres) return [Number(metres[1]) * 1000 + Number(metres[2]) * 10, null];
  }
  if (kind === "hours" || kind === "minutes") {
    const clock = CLOCK.exec(plain);
    if (clock) {
      const minutes = Number(clock[1]) * 60 + Number(clock[2]);
      return [kind === "hours" ? minutes / 60 : minutes, null];
    }
  }
  const single = SINGLE.exec(plain);
  const unit = single && single[2] ? single[2].trim() : "";
  const units = data.units[kind];
  if (single === null || (unit && !Object.prototype.hasOwnProperty.call(units, unit))) {
    throw new Unreadable(rangeText(data, limits) + ", " + data.messages["written_" + kind]);
  }
  const number = Number(single[1]);
  return unit ? [number * units[unit], null] : [number, number];
};

/** @param {any} data @param {number} value @param {number | null} number @param {Limits} limits
 * @param {Limits | null} usual @returns {string} */
const settled = (data, value, number, limits, usual) => {
  const kind = limits.kind;
  const kept = keptNumber(data, value, kind);
  if (kind === "count" && value !== Math.floor(value)) throw new Unreadable(rangeText(data, limits));
  const possible = within(Number(kept), limits);
  if (possible && (usual === null || within(Number(kept), usual))) return kept;
  if (usual === null) throw new Unreadable(rangeText(data, limits));
  /** @type {number[]} */
  const factors = kind !== "length" ? [] : number === null ? data.other_unit : data.bare_lengths;
  const others = factors.map(
    (factor) => /** @type {[number, string]} */ ([factor, keptNumber(data, value * factor, kind)]));
  let meant = others.filter(([, text]) => within(Number(text), usual));
  if (number !== null && !possible && meant.length === 1 && meant[0][0] !== 25.4) return meant[0][1];
  if (!possible) {
    meant = meant.length ? meant : others.filter(([, text]) => within(Number(text), limits));
    if (!meant.length) throw new Unreadable(rangeText(data, limits));
  }
  const guess = meant.length ? meant[0][1] : kept;
  const shown = valueText(data, kept, kind);
  const note = fill(!possible ? data.messages.cannot_be : data.messages.unlikely, { value: shown });
  const usually = fill(data.messages.usual, { range: rangeText(data, usual) });
  throw new AskedBack(guess, note + " " + usually, rangeText(data, limits), possible ? kept : "");
};

/** @param {any} data @param {string} text @param {Limits} limits @param {Limits | null} usual */
const readMeasured = (data, text, limits, usual) => {
  const laid = limits.kind === "length" ? laidLength(data, text.replace(/,/g, ".")) : null;
  const [value, number] = laid !== null ? [Number(laid), null] : amountOf(data, text, limits);
  return settled(data, value, number, limits, usual);
};

/** @param {any} data @param {string} text @param {Limits} limits @param {Limits | null} usual */
const readPieces = (data, text, limits, usual) => {
  const allowed = data.messages.pieces;
  let rest = text.toLowerCase().replace(/;/g, " ");
  rest = rest.replace(/(^|[^0-9,])([0-9]{1,2}),([0-9])(?![0-9,])/g, "$1$2.$3");
  rest = rest.replace(/,| and | y /g, " ").trim().split(/\s+/).join(" ");
  /** @type {[number, number, string][]} */
  const found = [];
  while (rest) {
    const piece = PIECE.exec(rest);
    if (piece === null) throw new Unreadable(allowed);
    found.push([Number(piece[1] || 1), Number(piece[2]), piece[3] || ""]);
    rest = rest.slice(piece[0].length).trimStart();
  }
  const many = found.reduce((sum, one) => sum + one[0], 0);
  if (!found.length || many > data.most_pieces) {
    throw new Unreadable(allowed, found.length ? fill(data.messages.most_pieces, { most: data.most_pieces }) : "");
  }
  const unit = found[found.length - 1][2];
  /** @type {string[]} */
  const out = [];
  /** @type {AskedBack | null} */
  let back = null;
  for (const [times, number, own] of found) {
    if (times > data.most_alike || times < 1) throw new Unreadable(allowed);
    let given = own || unit;
    if (!given && number < data.thinnest_bare && usual !== null) {
      if (Number.isInteger(number)) {
        throw new Unreadable(
          allowed, fill(data.messages.how_many, { number: shownNumber(data, plainNumber(number, 3)) }));
      }
      given = "cm";
    }
    let kept = "";
    try {
      const value = number * data.units.length[given || "mm"];
      kept = settled(data, value, given ? null : number, limits, usual);
    } catch (error) {
      if (!(error instanceof AskedBack)) throw error;
      kept = error.meant;
      back = error;
    }
    for (let count = 0; count < times; count += 1) out.push(kept);
  }
  if (back !== null) throw new AskedBack(out.join(", "), back.note, allowed, "");
  return out.join(", ");
};

/** @param {any} data @param {string} text @param {string} currency */
const readAmount = (data, text, currency) => {
  const decimals = data.currencies[currency];
  const example = shownNumber(data, decimals ? "40." + "0".repeat(decimals) : "40");
  let plain = text.toLowerCase().split(currency.toLowerCase()).join("").replace(/[€$£¥]/g, "").trim();
  if (plain.split(",").length === 2 && !plain.includes(".")) plain = plain.replace(/,(?=[0-9]+$)/, ".");
  const match = /^([0-9]{1,12})(?:\.([0-9]+))?$/.exec(plain);
  if (match === null || (match[2] || "").length > decimals) {
    throw new Unreadable(fill(data.messages.amount, { currency, example }));
  }
  const whole = match[1].replace(/^0+(?=[0-9])/, "");
  return decimals ? whole + "." + (match[2] || "").padEnd(decimals, "0") : whole;
};

/** Whether a number is less than others together, each times its factor; what is no number adds nothing.
 * @param {{of: string, than: Object<string, number>}} below @param {Answers} answers */
const isBelow = (below, answers) => {
  const number = (/** @type {string} */ key) => {
    const kept = answers[key] ?? "";
    return /^[0-9]+(?:\.[0-9]+)?$/.test(kept) ? Number(kept) : null;
  };
  const told = number(below.of);
  return told !== null && told < Object.entries(below.than).reduce((sum, [key, factor]) => sum + (number(key) ?? 0) * factor, 0);
};

/** Whether the answers before call for a question. @param {any} question @param {Answers} answers */
export const asked = (question, answers) => {
  if (question.from_catalog && !question.words.length && question.kind !== "pieces") return false;
  if (question.asked_after && (answers[question.asked_after] ?? null) === null) return false;
  if (question.asked_below && !isBelow(question.asked_below, answers)) return false;
  const calls = Object.entries(question.asked_if);
  return !calls.length || calls.some(([key, known]) => known.includes(answers[key] ?? null));
};

/** @param {any} question @param {Answers} answers @param {string[]} to_come */
const mayBeAsked = (question, answers, to_come) =>
  asked(question, answers) || Object.keys(question.asked_if).some((key) => to_come.includes(key) && !(key in answers));

/** Questions of a round that are, or may come to be, asked; those put at once.
 * @param {any} data @param {Answers} answers @param {boolean} first @returns {any[][]} */
export const screens = (data, answers, first) => {
  /** @type {any[][]} */
  const out = [];
  const to_come = data.questions.filter((/** @type {any} */ one) => one.first || !first)
    .map((/** @type {any} */ one) => one.key);
  for (const one of data.questions) {
    if (one.first !== first || !mayBeAsked(one, answers, to_come)) continue;
    const last = out[out.length - 1];
    if (last && one.screen && last[0].screen === one.screen) last.push(one);
    else out.push([one]);
  }
  return out;
};

/** Words to choose from. @param {any} question @param {Answers} answers @returns {[string, string][]} */
export const choices = (question, answers) =>
  question.words.filter((/** @type {[string, string]} */ [word]) =>
    !question.not_again || word !== answers[question.not_again]);

/** @param {any} question @param {Answers} answers */
const boundOf = (question, answers) => {
  const told = question.most ? answers[question.most.by] ?? null : null;
  return told === null ? null : Number(told) * question.most.times;
};

/** Read one answer and hold it against those before, as it is kept; throws AskedBack, or Unreadable.
 * @param {any} data @param {any} question @param {string} text @param {Answers} answers @param {boolean} sure */
export const readAnswer = (data, question, text, answers, sure) => {
  if (text.length > LONGEST) throw new Unreadable(fill(data.messages.longest, { most: LONGEST }));
  const usual = sure ? null : question.usual;
  const words = choices(question, answers).map(([word]) => word);
  if (question.kind === "money") return readAmount(data, text, answers[question.asked_after] || "");
  if (question.kind === "pieces") {
    return text === NOTHING ? text : readPieces(data, text, question.limits, usual);
  }
  if (question.kind === "measure" && !words.includes(text)) {
    const kept = readMeasured(data, text, question.limits, usual);
    const bound = boundOf(question, answers);
    if (bound !== null && (question.most.below ? Number(kept) >= bound : Number(kept) > bound)) {
      const told = valueText(data, plainNumber(bound, 3), question.limits.kind);
      const message = question.most.below ? data.messages.less_than : data.messages.at_most;
      throw new Unreadable(fill(message, { value: told }));
    }
    return kept;
  }
  const known = question.kind === "currency" ? Object.keys(data.currencies) : words;
  const parts = text === NOTHING && !known.includes(text) ? [] : text.split(", ");
  if (question.kind === "troubles") {
    if (!parts.every((part) => /^[a-z_]+ (?:[0-9]|10)$/.test(part) && known.includes(part.split(" ")[0]))) {
      throw new Unreadable(rangeText(data, question.limits));
    }
    return text;
  }
  if (!parts.every((part) => known.includes(part)) || (question.kind !== "choices" && parts.length !== 1)) {
    throw new Unreadable(known.join(", "));
  }
  return text;
};

/** Answers that still hold beside each other and are still called for. @param {any} data @param {Answers} answers */
export const stillHeld = (data, answers) => {
  /** @type {Answers} */
  const out = {};
  for (let before = -1; before < Object.keys(out).length;) {
    before = Object.keys(out).length;
    for (const one of data.questions) {
      if (one.key in out || !(one.key in answers) || !asked(one, out)) continue;
      const text = answers[one.key];
      try {
        out[one.key] = text === null ? null : readAnswer(data, one, text, out, true);
      } catch (error) {
        if (!(error instanceof Unreadable)) throw error;
      }
    }
  }
  return out;
};

/** How an answer was taken, for people to see. @param {any} data @param {any} question @param {string} kept */
export const takenText = (data, question, kept) => {
  const both = (/** @type {string} */ mm) =>
    `${lengthText(data, Number(mm), "mm")} (${lengthText(data, Number(mm), "in")})`;
  if (question.kind === "pieces" && kept !== NOTHING) {
    const pieces = kept.split(", ");
    return fill(data.messages.taken_pieces, { count: pieces.length, lengths: pieces.map(both).join(", ") });
  }
  if (question.kind === "money") return fill(data.messages.taken_as, { text: shownNumber(data, kept) });
  if (question.kind === "measure" && !question.words.some((/** @type {[string, string]} */ [word]) => word === kept)) {
    const kind = question.limits.kind;
    if (kind === "length") return fill(data.messages.taken_length, { length: both(kept) });
    return fill(data.messages["taken_" + kind], { number: shownNumber(data, kept) });
  }
  const meanings = Object.fromEntries(question.words);
  const said = kept.split(", ").map((part) => {
    const [word, number] = question.kind === "troubles" ? part.split(" ") : [part, ""];
    return (meanings[word] || word.replace(/_/g, " ")) + (number ? " " + number : "");
  });
  return fill(data.messages.taken_as, { text: said.join(question.kind === "troubles" ? ", " : "; ") });
};

/** Lines that one question makes: where, what, whether told, whether guessed.
 * @param {any} data @param {any} question @param {string | null} text @param {Answers} answers
 * @returns {[string[], any, boolean, boolean][]} */
const linesOf = (data, question, text, answers) => {
  const loc = question.to.split(".");
  if (text === null) {
    if (question.otherwise) {
      const bound = boundOf(question, answers);
      const value = Number(question.otherwise.value);
      const kept = keptNumber(data, bound === null ? value : Math.min(value, bound), question.limits.kind);
      return [[loc, { value: kept, sd: question.otherwise.sd, from: "estimated" }, true, true]];
    }
    const puts = Object.values(question.puts);
    if (puts.some((/** @type {any} */ one) => "from" in one)) return [];
    const words = choices(question, answers);
    const examples = Object.keys(question.example).length
      ? Object.entries(question.example) : [["", words.length ? words[0][0] : "unknown"]];
    return examples.map(([key, example]) => [key ? [...loc, key] : loc, example, false, false]);
  }
  if (Object.keys(question.puts).length) {
    return Object.entries(question.puts[text]).map(([key, value]) =>
      key === "from" ? [loc, { [key]: value }, true, false] : [[...loc, key], value, true, false]);
  }
  if (question.kind === "troubles") {
    return text === NOTHING ? [] : text.split(", ").map((part) => {
      const [region, number] = part.split(" ");
      return [[...loc, region], number, true, false];
    });
  }
  if (question.kind === "choices") return [[loc, text === NOTHING ? [] : text.split(", "), true, false]];
  if (question.kind === "pieces") return text === NOTHING ? [] : [[loc, text.split(", "), true, false]];
  return [[loc, text, true, false]];
};

/** @param {string} text */
const scalar = (text) => (PLAIN.test(text) || text.startsWith("[") ? text : JSON.stringify(text));

/** @param {any} value */
const flow = (value) => {
  if (Array.isArray(value)) return "[" + value.map(scalar).join(", ") + "]";
  if (typeof value === "string") return scalar(value);
  return "{" + Object.entries(value).map(([key, one]) => `${key}: ${scalar(String(one))}`).join(", ") + "}";
};

/** Name by which a line is found. @param {string[]} loc */
const nameOf = (loc) => loc.join(".");

/** Write the case that answers make. @param {any} data @param {Answers} answers @returns {string} */
export const caseText = (data, answers) => {
  /** @type {Map<string, {loc: string[], value: any, told: boolean, guessed: boolean, questions: any[]}>} */
  const found = new Map();
  for (const question of data.questions) {
    const called = asked(question, answers);
    if (!called && question.kind !== "money") continue;
    const text = called ? answers[question.key] ?? null : null;
    for (const [loc, value, told, guessed] of linesOf(data, question, text, answers)) {
      const before = found.get(nameOf(loc));
      if (!before) {
        found.set(nameOf(loc), { loc, value, told, guessed, questions: [question] });
      } else if (told) {
        const joined = Array.isArray(value) || typeof value === "string" ? value : { value: before.value, ...value };
        found.set(nameOf(loc), { loc, value: joined, told, guessed, questions: [...before.questions, question] });
      }
    }
  }
  const words = data.case_words;
  const leaf = (/** @type {string} */ text, /** @type {string} */ remark, /** @type {boolean} */ told) =>
    ({ leaf: true, text, remark, told });
  /** @type {any} */
  const tree = {
    person: {},
    places: [{ id: leaf("home", words.own_name, true), seat: {}, desk: {} }],
    devices: {},
    tasks: [{ id: leaf("work", words.own_name, true), place: leaf("home", "", true) }],
  };
  const said = new Set();
  for (const entry of found.values()) {
    let node = tree;
    for (const part of entry.loc.slice(0, -1)) {
      if (!(part in node)) node[part] = {};
      node = node[part];
    }
    const asks = entry.questions.filter((one) => !said.has(one.key)).map((one) => one.ask);
    entry.questions.forEach((one) => said.add(one.key));
    const before = entry.told && !entry.guessed ? "" : entry.told ? words.guessed : words.left_out;
    const remark = asks.length ? (before ? [before, ...asks] : asks).join(" ") : "";
    node[entry.loc[entry.loc.length - 1]] = leaf(flow(entry.value), remark, entry.told);
  }
  const lines = [...words.head];
  for (const [group, content] of Object.entries(tree)) {
    if (Array.isArray(content) || Object.keys(/** @type {any} */ (content)).length) {
      lines.push("", ...linesIn(group, content, 0));
    }
  }
  return lines.join("\n") + "\n";
};

/** @param {any} content @returns {boolean} */
const toldIn = (content) => (content.leaf === true ? content.told : Object.values(content).some(toldIn));

/** @param {string} name @param {any} content @param {number} indent @returns {string[]} */
const linesIn = (name, content, indent) => {
  const start = `${toldIn(content) ? "" : "#"}${" ".repeat(indent)}${name}:`;
  if (content.leaf === true) {
    const line = `${start} ${content.text}`;
    return [content.remark ? `${line.padEnd(36)}  # ${content.remark}` : line];
  }
  const out = [start];
  if (Array.isArray(content)) {
    for (const entry of content) {
      const inside = Object.entries(entry)
        .filter(([, one]) => one.leaf === true || Object.keys(one).length)
        .flatMap(([key, one]) => linesIn(key, one, indent + 4));
      out.push(" ".repeat(indent + 2) + "- " + inside[0].slice(indent + 4), ...inside.slice(1));
    }
    return out;
  }
  for (const [key, one] of Object.entries(content)) out.push(...linesIn(key, one, indent + 2));
  return out;
};
