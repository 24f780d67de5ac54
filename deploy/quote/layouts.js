// Layouts side by side: asked for with one press, each quoted as it would be ordered, one of them taken with another press.
import { ask, quote, why } from "./asking.js";
import { bars, short } from "./answer.js";
import { drawn } from "./plan.js";
import { mark } from "./rows.js";
import { asLaid, money, room, state } from "./state.js";
import { find, made, said, text } from "./words.js";

let asked = null; // the last answer with the quotes of its layouts
let stop = null;

function tell(words, away = false) {
  find("laying").textContent = words;
  find("laying").classList.toggle("away", away);
}
/** Asks for layouts; `take(lines, machines)` is called with those of the one that is taken. */
export async function suggest(take) {
  const places = room();
  close();
  if (!places) return tell(text("not_placed"), true);
  stop = new AbortController();
  const { signal } = stop;
  tell(text("laying"));
  try {
    const reply = await ask("/layout", { layout: places }, signal);
    if (reply.status !== 200) {
      const { word, faults: wrong, values } = why(reply);
      if (word === "refused") mark(wrong);
      return tell(said(word, values), true);
    }
    const answer = JSON.parse(reply.text);
    const shops = [state, ...answer.layouts.map((one) => asLaid(one, text("line_row")))].map((shop) => structuredClone(shop));
    const quotes = await Promise.all(shops.map((shop) => quote(shop, signal)));
    asked = { answer, shops, quotes: quotes.map((one) => (one.status === 200 ? JSON.parse(one.text) : null)), take };
    show();
    find("layouts-title").focus();
  } catch (error) {
    if (error.name !== "AbortError") throw error;
  }
}
/** Shows the layouts again, as after a change of language. */
export function show() {
  if (!asked) return;
  const { answer, shops, quotes, take } = asked;
  find("layouts").hidden = !answer.layouts.length;
  tell(answer.layouts.length ? said("laid", { count: answer.layouts.length }) : none(answer), !answer.layouts.length);
  find("cards").replaceChildren(...shops.map((shop, number) => card(shop, quotes[number], answer.layouts[number - 1], number, take)));
  find("proof").textContent = answer.layouts.length ? proof(answer) : "";
}
/** Puts the layouts away; what was said of them goes with them. */
export function close() {
  stop?.abort();
  asked = null;
  find("layouts").hidden = true;
  tell("");
}
function none(answer) {
  const words = answer.clashes.slice(0, 3).map((one) => said(one.alone ? "clash_alone" : "clash", { machines: one.machines.join(", "), states: one.states.join(", ") }));
  return [text("no_layout"), ...words, text("no_layout_advice")].join(" ");
}
function proof(answer) {
  const [first] = answer.layouts, currency = asked.quotes[0]?.currency ?? asked.quotes[1]?.currency;
  const values = { price: money(first.price, currency), bound: answer.bound ? money(answer.bound, currency) : "" };
  const word = answer.none_holds ? "none_holds" : answer.proof === "exact" ? "exact" : answer.bound && Number(answer.bound) <= Number(first.price) ? "gap" : "gap_alone";
  const [own, best, ...others] = asked.quotes.map((quote) => Number(quote?.price ?? Infinity));
  const other = Math.min(own, ...others) < best ? `${text("quoted_otherwise")} ` : "";
  return `${said(word, values)} ${other}${text("not_looked")}`;
}
function card(shop, answer, layout, number, take) {
  const name = number ? `${text("layout")} ${number}` : text("as_drawn");
  const node = made("article", { className: "card", ariaLabel: name }, made("h3", {}, name));
  const words = { plan: `${text("plan")}: ${name}`, collector: text("collector") };
  node.append(drawn(shop, 300, { words }));
  if (answer) {
    node.append(made("p", { className: "price" }, answer.price ? money(answer.price, answer.currency) : "-"), ...bars(answer, true));
    const broken = answer.states.filter((one) => !one.holds).map((one) => `${one.name}: ${short(one)}`);
    if (answer.outcome !== "sized") broken.push(text("no_tree"));
    if (layout?.overlaps.length) broken.push(text("overlaps"));
    node.append(made("ul", {}, ...(broken.length ? broken : [text("holds")]).map((one) => made("li", { className: broken.length ? "bad" : "good" }, one))));
  } else node.append(made("p", { className: "wrong" }, text("no_tree")));
  if (number) {
    const button = made("button", { type: "button", className: "main", ariaLabel: `${text("take")}: ${name}` }, text("take"));
    button.addEventListener("click", () => take(shop));
    node.append(button);
  }
  return node;
}
