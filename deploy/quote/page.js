// The page: rows in, a quote out. It keeps no price and no key; what it orders it hands back as it came.
import { CODES, DUSTS, MACHINES, PARTS, TEXTS, WORDS } from "./texts.js";

const FACTORS = { length: 0.3048, diameter: 25.4, flow: 1.69901082, pressure: 249.08891 };
const SYMBOLS = {
  us: { length: "ft", diameter: "in", flow: "cfm", pressure: "inH2O" },
  metric: { length: "m", diameter: "mm", flow: "m³/h", pressure: "Pa" },
};
const KINDS = { length: "length", greatest_flow: "flow", greatest_suction: "pressure", at: "length", off: "length", drop: "length", port: "diameter", hose: "length" };
const COLUMNS = ["at", "off", "drop", "port", "hose"];
const START = {
  language: navigator.language.startsWith("de") ? "de" : "en", units: "us", length: "28", dust: "sawdust", greatest_flow: "1600", greatest_suction: "12",
  machines: [
    { id: "planer", machine: "planer", at: "10", off: "3", drop: "5", port: "5", hose: "4" },
    { id: "table saw", machine: "table-saw", at: "18", off: "4", drop: "6", port: "4", hose: "5" },
    { id: "band saw", machine: "band-saw", at: "28", off: "1", drop: "5", port: "4", hose: "4" },
  ],
};
const find = (id) => document.getElementById(id);
const field = (name) => find("shop").elements.namedItem(name); // not `elements.length`
const state = read();
let last = null; // the last quote: its outline, the answer's very text, its signature, and the answer
let turn = 0;
let waiting;

function read() {
  try {
    const kept = JSON.parse(localStorage.getItem("shop"));
    return kept?.machines?.length ? { ...START, ...kept } : structuredClone(START);
  } catch {
    return structuredClone(START);
  }
}
function keep() {
  try { localStorage.setItem("shop", JSON.stringify(state)); } catch { /* a browser that keeps nothing still quotes */ }
}
const text = (name) => TEXTS[state.language][name];
const word = (name) => WORDS[state.language][name] ?? name;
function made(tag, fields = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(fields)) name in node ? (node[name] = value) : node.setAttribute(name, value);
  node.append(...inside);
  return node;
}
function told(value, unit) {
  return `${new Intl.NumberFormat(state.language, { maximumFractionDigits: 0 }).format(value)} ${unit}`;
}
function money(value, currency) {
  const [whole, coins] = String(value).split(".");
  const sum = new Intl.NumberFormat(state.language).format(BigInt(whole)) + (coins ? (state.language === "de" ? "," : ".") + coins : "");
  return `${sum} ${currency ?? ""}`;
}

// What was typed, as the service reads it: a plain number with point or comma is a number, all else goes as it is.
function wire(typed) {
  const plain = typed.trim();
  return /^-?\d+([.,]\d+)?$/.test(plain) && !/,\d{3}$/.test(plain) ? Number(plain.replace(",", ".")) : plain;
}
function outline() {
  const known = {};
  for (const name of ["greatest_flow", "greatest_suction"]) if (state[name].trim()) known[name] = wire(state[name]);
  return {
    units: state.units, dust: state.dust, lines: [{ id: "main", into: null, length: wire(state.length) }],
    machines: state.machines.map((row) => ({
      id: row.id.trim(), machine: row.machine, line: "main",
      ...Object.fromEntries(COLUMNS.filter((name) => row[name].trim()).map((name) => [name, wire(row[name])])),
    })),
    ...(Object.keys(known).length ? { collector: { known_by: known } } : {}),
  };
}

function write() {
  document.documentElement.lang = state.language;
  document.title = `${text("title")} - ${text("invented")}`;
  for (const node of document.querySelectorAll("[data-text]")) node.textContent = text(node.dataset.text);
  for (const node of document.querySelectorAll("[data-unit]")) node.textContent = SYMBOLS[state.units][node.dataset.unit];
  for (const [id, name] of [["plan", "plan"], ["tree", "tree"], ["parts-group", "parts"]]) find(id).setAttribute("aria-label", text(name));
  for (const name of ["language", "units"]) find("choices").elements[name].value = state[name];
  find("dust").replaceChildren(...DUSTS.map((name) => made("option", { value: name }, word(name))));
  for (const name of ["length", "dust", "greatest_flow", "greatest_suction"]) field(name).value = state[name];
  find("rows").replaceChildren(...state.machines.map(row));
}
function row(machine, number) {
  const named = (name, inside) => made("label", {}, made("span", {}, text(name)), " ", ...(KINDS[name] ? [made("i", {}, SYMBOLS[state.units][KINDS[name]])] : []), inside);
  const typed = (name) => {
    const input = made("input", { value: machine[name], autocomplete: "off", name: `${name}-${number}` });
    if (KINDS[name]) input.inputMode = "decimal";
    input.addEventListener("input", () => { machine[name] = input.value; changed(); });
    return input;
  };
  const kinds = made("select", { name: `machine-${number}` }, ...MACHINES.map((name) => made("option", { value: name, selected: name === machine.machine }, word(name))));
  kinds.addEventListener("change", () => { machine.machine = kinds.value; changed(); });
  const remove = made("button", { type: "button", disabled: state.machines.length === 1, ariaLabel: `${text("remove")}: ${machine.id}` }, text("remove"));
  remove.addEventListener("click", () => { state.machines.splice(number, 1); write(); find("more").focus(); changed(); });
  const fields = made("div", { className: "fields" }, named("name", typed("id")), named("machine", kinds), ...COLUMNS.map((name) => named(name, typed(name))), remove);
  return made("div", { className: "row", ariaLabel: `${text("row")} ${number + 1}`, role: "group" }, fields);
}

function changed() {
  keep();
  clearTimeout(waiting);
  waiting = setTimeout(quote, 350);
}
async function ask(path, body) {
  const reply = await fetch(path, { method: "POST", body: JSON.stringify(body), headers: { "content-type": "application/json" } });
  return { status: reply.status, text: await reply.text(), signature: reply.headers.get("airbough-signature") };
}
function say(name, away = false) {
  find("status").textContent = name ? text(name) : "";
  find("status").classList.toggle("away", away);
}
async function quote() {
  const mine = ++turn;
  const asked = outline();
  say("asking");
  find("order").disabled = true;
  let reply;
  try {
    reply = await ask("/quote", { outline: asked });
  } catch {
    reply = { status: 502 };
  }
  if (mine !== turn) return; // something was typed since
  mark([]);
  if (reply.status === 200) {
    last = { asked, text: reply.text, signature: reply.signature, answer: JSON.parse(reply.text) };
    show();
    return say("ready");
  }
  find("result").classList.add("stale");
  if (reply.status === 400 || reply.status === 422) {
    mark(JSON.parse(reply.text).errors ?? []);
    return say("refused");
  }
  return say("away", true);
}
// Puts each fault beside the field that it is of.
function mark(faults) {
  for (const node of document.querySelectorAll(".wrong")) node.remove();
  for (const node of document.querySelectorAll("[aria-invalid]")) { node.removeAttribute("aria-invalid"); node.removeAttribute("aria-describedby"); }
  faults.forEach((fault, number) => {
    const [, at, name] = /^outline\.machines\[(\d+)\]\.?(\w*)/.exec(fault.path) ?? [];
    const plain = /^outline\.(?:lines\[0\]|collector\.known_by)\.(\w+)/.exec(fault.path)?.[1];
    const place = at !== undefined ? field(`${name || "id"}-${at}`) : plain && field(plain);
    const note = made("p", { className: "wrong", id: `wrong-${number}`, lang: "en" }, fault.detail);
    if (!place) return find("shop").append(note);
    place.setAttribute("aria-invalid", "true");
    place.setAttribute("aria-describedby", note.id);
    place.closest(".row, fieldset").append(note);
  });
}

function show() {
  const { answer } = last;
  find("result").hidden = false;
  find("result").classList.remove("stale");
  find("price").textContent = answer.price ? money(answer.price, answer.currency) : "-";
  const notes = [answer.price_complete ? "" : text("incomplete"), answer.expires ? `${text("until")} ${answer.expires}` : ""];
  find("price-note").textContent = notes.filter(Boolean).join(", ");
  find("order").disabled = !(answer.price && answer.price_complete);
  bars(answer);
  faults(answer);
  for (const name of ["plan", "tree"]) find(name).replaceChildren(...picture(answer.drawings[name]));
  parts(answer.parts);
  find("cautions").replaceChildren(...answer.cautions.map((one) => made("li", { lang: "en" }, one)));
}
function picture(svg) {
  return svg ? [document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true)] : [];
}
function shape(tag, fields) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(fields)) node.setAttribute(name, value);
  return node;
}
function bars(answer) {
  const rows = answer.states.map((one) => {
    const open = one.hoods.filter((hood) => hood.open);
    const sum = (name) => open.reduce((all, hood) => all + (hood[name] ?? 0), 0);
    return { name: one.name, needs: sum("design_flow"), gets: sum("flow") };
  });
  const most = Math.max(1, ...rows.flatMap((one) => [one.needs, one.gets]));
  find("bars").replaceChildren(...rows.map((one) => {
    const lacks = one.gets < one.needs * (1 - 1e-6);
    const bar = shape("svg", { viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" });
    bar.append(
      shape("rect", { class: "track", x: 0, y: 0, width: 100, height: 10 }),
      shape("rect", { class: lacks ? "short" : "gets", x: 0, y: 2, width: (100 * one.gets) / most, height: 6 }),
      shape("line", { class: "needs", x1: (100 * one.needs) / most, x2: (100 * one.needs) / most, y1: 0, y2: 10, "vector-effect": "non-scaling-stroke" }),
    );
    const unit = answer.units.flow === "ft^3/min" ? "cfm" : "m³/h";
    const words = made("p", {}, `${text("needs")} ${told(one.needs, unit)}, ${text("gets")} ${told(one.gets, unit)}`);
    if (lacks) words.append(" - ", made("span", { className: "short-text" }, text("short")));
    return made("div", { className: "bar" }, made("span", {}, one.name), bar, words);
  }));
}
function faults(answer) {
  const out = [];
  for (const one of answer.states.filter((one) => !one.holds && one.fix?.open?.length)) {
    out.push(made("li", {}, `${text("running")} (${one.name}): ${text("as_well")} ${one.fix.open.join(", ")}`));
  }
  const worst = answer.findings.filter((one) => one.severity !== "note");
  const told = new Set(out.length ? ["open-further-gates"] : []);
  for (const one of worst) {
    if (told.has(one.code)) continue; // the first of each kind is the worst; the scheme marks them all
    told.add(one.code);
    const own = CODES[state.language][one.code];
    const where = own && (one.run ?? one.state) ? ` (${one.run ?? one.state})` : "";
    const node = made("li", {}, made("span", own ? {} : { lang: "en" }, (own ?? one.message) + where));
    if (one.suggestion && !own) node.append(made("span", { lang: "en" }, ` - ${one.suggestion.text}`));
    out.push(node);
  }
  if (answer.outcome !== "sized") out.unshift(made("li", {}, text("no_tree")));
  find("faults").replaceChildren(...(out.length ? out : [made("li", {}, text("all_holds"))]));
}
function what(line) {
  const [kind, ...more] = line.split(", ");
  return [PARTS[state.language][kind] ?? kind.replaceAll("-", " "), ...more.map((one) => one.replaceAll("-", " "))].join(", ");
}
function parts(list) {
  const heads = ["item", "what", "quantity", "price"];
  const head = made("tr", {}, ...heads.map((name) => made("th", { scope: "col", className: name === "quantity" || name === "price" ? "number" : "" }, text(name))));
  const unit = SYMBOLS[state.units].length;
  const lines = (list?.lines ?? []).map((line) => made("tr", {},
    made("td", {}, line.item ?? "-"), made("td", {}, what(line.what)),
    made("td", { className: "number" }, line.quantity ?? `${Math.round(10 * (line.length ?? 0)) / 10} ${unit}`),
    made("td", { className: "number" }, line.price ? money(line.price, "") : "-")));
  find("parts").replaceChildren(made("thead", {}, head), made("tbody", {}, ...lines));
}

find("choices").addEventListener("change", ({ target }) => {
  if (target.name === "units" && target.value !== state.units) convert(target.value);
  state[target.name] = target.value;
  write();
  changed();
});
// Turns what was typed into the other units, where it is a plain number.
function convert(units) {
  const turned = (typed, kind) => {
    const value = wire(typed);
    if (typeof value !== "number") return typed;
    const factor = units === "metric" ? FACTORS[kind] : 1 / FACTORS[kind];
    return String(Number((value * factor).toFixed(kind === "length" ? 2 : kind === "diameter" ? 1 : 1)));
  };
  for (const name of ["length", "greatest_flow", "greatest_suction"]) state[name] = turned(state[name], KINDS[name]);
  for (const machine of state.machines) for (const name of COLUMNS) machine[name] = turned(machine[name], KINDS[name]);
}
find("shop").addEventListener("input", ({ target }) => {
  if (target.name in state) { state[target.name] = target.value; changed(); }
});
find("shop").addEventListener("submit", (event) => event.preventDefault());
find("more").addEventListener("click", () => {
  const used = new Set(state.machines.map((one) => one.id));
  let number = state.machines.length + 1;
  while (used.has(`${text("row").toLowerCase()} ${number}`)) number += 1;
  const port = state.units === "us" ? "4" : "100";
  const length = wire(state.length);
  const at = typeof length === "number" ? String(Math.round(6.2 * length) / 10) : ""; // on the way, where room is likely
  state.machines.push({ id: `${text("row").toLowerCase()} ${number}`, machine: "lathe", at, off: "", drop: state.units === "us" ? "5" : "1.5", port, hose: state.units === "us" ? "4" : "1.2" });
  write();
  field(`id-${state.machines.length - 1}`).focus();
  changed();
});
find("csv").addEventListener("click", () => {
  const address = URL.createObjectURL(new Blob([last.answer.parts?.csv ?? ""], { type: "text/csv" }));
  made("a", { href: address, download: "parts.csv" }).click();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
});
find("print").addEventListener("click", () => print());
find("order").addEventListener("click", async () => {
  let reply;
  try {
    reply = await ask("/order", { outline: last.asked, answer: last.text, signature: last.signature });
  } catch {
    return say("away", true);
  }
  const said = JSON.parse(reply.text);
  find("ordered").textContent = reply.status === 200 ? `${text("taken")} ${money(said.price, said.currency)}.` : text(said.error) ?? text("fallback");
  if (said.error === "altered") changed();
});

write();
quote();
