// The service's own scheme of the tree, in the page's language: its words are put into German, its list of findings stands below it.
import { PATTERNS, SCHEME } from "./german.js";
import { own, state } from "./state.js";
import { MACHINES } from "./texts.js";
import { made, ofCode, text, word } from "./words.js";

const CODE = /^[a-z]+(-[a-z]+)+$/;
const SEVERITY = /^(Danger|Warning|Note): /;

/** The picture and its remarks: `{number, code, message, where}`. */
export function scheme(svg) {
  const picture = document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);
  const remarks = taken(picture);
  if (state.language === "de") translate(picture);
  return { picture, remarks };
}
/** Takes the list of findings out of a picture. */
function taken(picture) {
  const head = [...picture.querySelectorAll("text")].findLast((node) => node.textContent === "Findings");
  if (!head) return [];
  const out = [];
  for (let node = head.nextElementSibling; node; node = node.nextElementSibling) {
    if (node.localName !== "text") continue;
    const words = node.textContent;
    if (/^\d+$/.test(words)) out.push({ number: words, lines: [], code: "" });
    else if (!out.length) continue;
    else if (CODE.test(words) && out.at(-1).lines.length) out.at(-1).code = words;
    else out.at(-1).lines.push(words);
  }
  const end = Number(head.getAttribute("y")) - 14, [x, y, width] = picture.getAttribute("viewBox").split(" ");
  while (head.nextElementSibling) head.nextElementSibling.remove();
  head.remove();
  picture.setAttribute("viewBox", `${x} ${y} ${width} ${end}`);
  picture.setAttribute("height", end);
  return out.map(({ number, code, lines }) => {
    const [, message, where = ""] = /^(.*?)(?: Runs?: (.*))?$/.exec(lines.join(" ").replace(SEVERITY, ""));
    return { number, code, message, where };
  });
}
export function listed(remarks) {
  return remarks.map((one) => made("li", {}, made("b", {}, one.number), ` ${ofCode(one.code, one.message)}${one.where ? ` (${one.where.split(", ").map(called).join(", ")})` : ""}`));
}
/** A run's name: that of its row; the hose of one is called so. */
const called = (run) => (state.language === "de" ? run.replace(/-hose(?=-\d+$|$)/, "-Schlauch") : run);
function translate(picture) {
  const mine = [...own()], ofRow = (words) => mine.some((name) => words === name || (words.startsWith(`${name}-`) && /^(hose)?(-?\d+)?$/.test(words.slice(name.length + 1))));
  for (const node of picture.querySelectorAll("text")) node.textContent = ofRow(node.textContent) ? called(node.textContent) : german(node.textContent);
  picture.querySelector("title").textContent = text("tree");
  const sentences = picture.querySelector("desc").textContent.split(/(?<=[.!?]) (?=[A-Z])/);
  picture.querySelector("desc").textContent = sentences.map((one) => one.replace(/\.$/, "")).filter((one) => PATTERNS.some(([pattern]) => pattern.test(one))).map(german).join(". ");
}
function german(words) {
  if (SCHEME[words]) return SCHEME[words];
  const machine = MACHINES.find((name) => words === name.replaceAll("-", " ") || words.endsWith(`, ${name.replaceAll("-", " ")}`));
  if (machine) return words.slice(0, -machine.length) + word(machine);
  const [pattern, into] = PATTERNS.find(([one]) => one.test(words)) ?? [];
  return (pattern ? words.replace(pattern, into).replace(/-hose(?=,)/, "-Schlauch") : words).replace(/(\d)\.(\d)/g, "$1,$2");
}
