// Words in the page's language, and nodes of the page.
import { CAUTIONS, CODES, FAULTS } from "./german.js";
import { state } from "./state.js";
import { TEXTS, WORDS } from "./texts.js";

export const find = (id) => document.getElementById(id);
export const text = (name) => TEXTS[state.language][name];
export const word = (name) => WORDS[state.language][name] ?? name;
const german = () => state.language === "de";

/** A text with `{name}` replaced by what it is called. */
export function said(name, values) {
  return text(name).replace(/\{(\w+)\}/g, (_, key) => values[key]);
}
export function made(tag, fields = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(fields)) name in node ? (node[name] = value) : node.setAttribute(name, value);
  node.append(...inside);
  return node;
}
/** What a finding says; German words come by its code. */
export const ofFinding = (one) => (german() ? CODES[one.code] ?? CODES.other : one.message);
export const ofFault = (one) => (german() ? FAULTS[one.code] ?? FAULTS.other : one.detail);
export const ofCaution = (one) => (german() ? CAUTIONS[one] ?? CAUTIONS.other : one);
export const ofCode = (code, english) => (german() ? CODES[code] ?? CODES.other : english);
