// The page: rows and plan in, a quote out. It keeps no price and no key; what it orders it hands back as it came.
import { show as showAnswer } from "./answer.js";
import { ask, quote as asked, why } from "./asking.js";
import { close, show as showLayouts, suggest } from "./layouts.js";
import { drawn, focus, movedTo, moving, shown, STEP } from "./plan.js";
import { addLine, addMachine, lengthen, mark, put, write } from "./rows.js";
import { convert, keep, money, outline, state, states, SYMBOLS, told } from "./state.js";
import { find, made, said, text } from "./words.js";

const HELD_BACK = 350; // ms after the last change until it is asked
let last = null; // the last quote: its outline, the answer's very text, its signature, and the answer
let before = null; // the visitor's own lines and machines, after a layout was taken
let asking = null;
let waiting;

function whole() {
  document.documentElement.lang = state.language;
  document.title = `${text("title")} - ${text("invented")}`;
  for (const node of document.querySelectorAll("[data-text]")) node.textContent = text(node.dataset.text);
  const step = (times) => told(STEP[state.units] * times, SYMBOLS[state.units].length, 1);
  find("plan-hint").textContent = said("plan_hint", { step: step(1), far: step(5) });
  for (const [id, name] of [["tree", "tree"], ["parts-group", "parts"]]) find(id).setAttribute("aria-label", text(name));
  for (const name of ["language", "units"]) find("choices").elements[name].value = state[name];
  find("back").hidden = !before;
  write(changed);
  plan();
}
function plan() {
  const kept = document.activeElement?.closest("#plan [data-machine]")?.dataset.machine;
  const fresh = last?.answer.tree && last.mine === JSON.stringify({ outline: outline(), ...states() });
  const sizes = fresh ? bores(last.answer) : [];
  const movable = Object.assign((row) => where(row), { kind: text("movable") });
  const words = { plan: text("plan"), collector: text("collector") };
  shown(find("plan"), drawn(state, Math.max(280, find("plan").clientWidth), { sizes, movable, words }));
  if (kept !== undefined) focus(find("plan"), kept);
}
/** The diameters along main lines, each in the middle of its run. */
function bores(answer) {
  const lines = new Set(state.lines.map((one) => one.id));
  const runs = answer.tree.runs.filter((run) => lines.has(answer.rows[run.id]) && run.path?.length);
  return runs.map((run) => {
    const [one, two] = run.path;
    return { path: [one, two], told: told(run.diameter, SYMBOLS[state.units].diameter, 1) };
  });
}
function where(row) {
  const unit = SYMBOLS[state.units].length, length = (typed) => (/[a-z'"]/i.test(typed) ? typed : `${typed || 0} ${unit}`);
  return said("moved", { name: row.id, at: length(row.at), line: row.line, off: length(row.off), side: text(row.side) });
}
function changed() {
  keep();
  plan();
  clearTimeout(waiting);
  waiting = setTimeout(quote, HELD_BACK);
}
function move(number, place) {
  const found = movedTo(state, number, place);
  if (!found) return;
  put(number, found);
  if (found.longer) lengthen(state.machines[number].line, found.at);
  changed();
  find("moved").textContent = where(state.machines[number]) + (found.longer ? `. ${said("longer", { line: state.machines[number].line })}` : "");
}

function say(words, away = false) {
  find("status").textContent = words;
  find("status").classList.toggle("away", away);
  find("retry").hidden = !away;
}
async function quote() {
  clearTimeout(waiting);
  asking?.abort(); // the last one wins
  const mine = (asking = new AbortController());
  const sent = { outline: outline(), ...states() };
  say(text("asking"));
  find("order").disabled = true;
  find("ordered").textContent = "";
  let reply;
  try {
    reply = await asked(state, mine.signal);
  } catch {
    return; // something was typed since
  }
  if (mine !== asking) return;
  mark([]);
  if (reply.status === 200) {
    last = { asked: sent, mine: JSON.stringify(sent), text: reply.text, signature: reply.signature, answer: JSON.parse(reply.text) };
    showAnswer(last.answer, together);
    plan();
    return say(text("ready"));
  }
  find("result").classList.add("stale");
  const { word, faults, values } = why(reply);
  mark(faults);
  if (word === "busy") waiting = setTimeout(quote, 1000 * values.seconds);
  say(said(word === "busy" ? "busy_again" : word, values), word !== "refused");
}
/** Chooses pipes so that these two run together too; none: for one machine at a time. */
function together(pair) {
  state.together = pair ? [pair] : [];
  changed();
}
function take(shop) {
  before ??= { lines: state.lines, machines: state.machines };
  replace(shop, "picked");
}
function replace({ lines, machines }, words) {
  state.lines = structuredClone(lines);
  state.machines = structuredClone(machines);
  close();
  whole();
  changed();
  find("laying").textContent = text(words);
  find("moved").textContent = "";
  focus(find("plan"), 0);
}

find("choices").addEventListener("change", () => {
  const { units, language } = find("choices").elements;
  const anew = units.value !== state.units;
  convert(units.value, language.value);
  if (anew) { close(); before = null; }
  whole();
  showLayouts();
  changed();
});
moving(find("plan"), state, move);
new ResizeObserver(() => plan()).observe(find("plan").parentElement);
find("shop").addEventListener("submit", (event) => event.preventDefault());
find("more").addEventListener("click", addMachine);
find("more-lines").addEventListener("click", addLine);
find("retry").addEventListener("click", quote);
find("suggest").addEventListener("click", () => suggest(take));
find("close").addEventListener("click", () => { close(); find("suggest").focus(); });
find("back").addEventListener("click", () => { const own = before; before = null; replace(own, "undone"); });
find("csv").addEventListener("click", () => {
  const address = URL.createObjectURL(new Blob([last.answer.parts?.csv ?? ""], { type: "text/csv" }));
  made("a", { href: address, download: "parts.csv" }).click();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
});
find("print").addEventListener("click", () => print());
find("order").addEventListener("click", async () => {
  const reply = await ask("/order", { ...last.asked, answer: last.text, signature: last.signature });
  const told = JSON.parse(reply.text);
  const words = reply.status === 200 ? `${text("taken")} ${money(told.price, told.currency)}.` : reply.status === 502 ? text("away") : text(told.error) ?? text("fallback");
  find("ordered").textContent = words;
  if (told.error === "altered") quote().then(() => { find("ordered").textContent = words; });
});

whole();
quote();
