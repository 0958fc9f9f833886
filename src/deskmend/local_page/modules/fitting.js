// @ts-check
/* Where no plan keeps to all wishes: what hinders, and one button for each way out. */
import { button, made, problem, word } from "./asking.js";

/** @param {any} told @param {((name: string) => void) | null} free */
export function notFitting(told, free) {
  const lines = [
    ...told.must.map((/** @type {any} */ one) => word("must_line", { title: one.title })),
    ...told.never.map((/** @type {any} */ one) => word("never_line", { title: one.title })),
  ];
  const ways = free === null ? [] : [...told.must, ...told.never].map(one => button(word("make_free", { title: one.title }), () => free(one.name)));
  problem(word("no_fit"), [
    ...told.signs.map((/** @type {string} */ sign) => made("p", {}, made("b", {}, sign))),
    made("p", {}, `${told.hinders}; ${told.would_help}.`),
    ...(lines.length ? [made("ul", { class: "clash" }, ...lines.map(line => made("li", {}, line)))] : []),
    ...(ways.length ? [made("p", {}, word("give_up")), made("p", { class: "actions" }, ...ways)] : []),
  ]);
}
