// The one state of the page: what stands in the rows. The plan, the requests and the browser's memory are made of it.
import { laid, lengthOf, placeOf, plain, rowsOf } from "./geometry.js";

const FACTORS = { length: 0.3048, diameter: 25.4, flow: 1.69901082, pressure: 249.08891 };
export const SYMBOLS = {
  us: { length: "ft", diameter: "in", flow: "cfm", pressure: "inH2O" },
  metric: { length: "m", diameter: "mm", flow: "m³/h", pressure: "Pa" },
};
export const KINDS = {
  room_length: "length", room_width: "length", duct_height: "length", inlet_x: "length", inlet_y: "length", length: "length", at: "length",
  greatest_flow: "flow", greatest_suction: "pressure", size: "diameter", off: "length", drop: "length", port: "diameter", hose: "length",
};
export const PLAIN = ["room_length", "room_width", "duct_height", "inlet_x", "inlet_y", "greatest_flow", "greatest_suction"];
export const COLUMNS = ["size", "at", "off", "drop", "port", "hose"];
const MACHINE = { size: "", side: "left", line: "main" };
const START = {
  language: navigator.language.startsWith("de") ? "de" : "en", units: "us", dust: "sawdust", greatest_flow: "2400", greatest_suction: "14",
  room_length: "32", room_width: "20", duct_height: "8", inlet_x: "0", inlet_y: "10",
  lines: [{ id: "main", into: "", at: "", start: "ahead", length: "28", turns: [] }],
  machines: [
    { ...MACHINE, id: "planer", machine: "planer", size: "20", at: "10", off: "3", drop: "5", port: "5", hose: "4" },
    { ...MACHINE, id: "table saw", machine: "table-saw", size: "14", at: "18", off: "4", drop: "6", port: "5", hose: "5" },
    { ...MACHINE, id: "jointer", machine: "jointer", size: "20", at: "28", off: "1", drop: "5", port: "5", hose: "4" },
    { ...MACHINE, id: "lathe", machine: "lathe", at: "14", off: "6", side: "right", drop: "5", port: "5", hose: "4" },
  ],
  together: [], // two machines each, for which pipes are chosen too
};
const GERMAN = { main: "Strang", planer: "Hobel", "table saw": "Kreissäge", jointer: "Abrichte", lathe: "Drechselbank" };
export const state = read();

function read() {
  try {
    const kept = JSON.parse(localStorage.getItem("shop"));
    if (kept?.machines?.length && kept.lines?.length) return { ...START, ...kept };
  } catch { /* nothing kept, or nothing that can be read */ }
  const start = structuredClone(START);
  if (start.language === "de") for (const row of [...start.lines, ...start.machines]) Object.assign(row, { id: GERMAN[row.id], ...(row.line ? { line: GERMAN[row.line] } : {}) });
  return start;
}
export function keep() {
  try { localStorage.setItem("shop", JSON.stringify(state)); } catch { /* a browser that keeps nothing still quotes */ }
}

/** A number as it is typed in the page's language. */
export function written(value, digits = 2) {
  return new Intl.NumberFormat(state.language, { maximumFractionDigits: digits, useGrouping: false }).format(value);
}
export function told(value, unit, digits = 0) {
  return `${new Intl.NumberFormat(state.language, { maximumFractionDigits: digits }).format(value)} ${unit}`;
}
export function money(value, currency) {
  const [whole, coins] = String(value).split(".");
  const sum = new Intl.NumberFormat(state.language).format(BigInt(whole)) + (coins ? (state.language === "de" ? "," : ".") + coins : "");
  return `${sum} ${currency ?? ""}`.trim();
}

// What was typed, as the service reads it: a plain number with point or comma is a number, all else goes as it is.
const wire = (typed) => plain(typed) ?? typed.trim();
const filled = (row, names) => Object.fromEntries(names.filter((name) => row[name].trim()).map((name) => [name, wire(row[name])]));

export function outline(shop = state) {
  return {
    units: shop.units, dust: shop.dust,
    lines: shop.lines.map((line) => ({
      id: line.id.trim(), into: line.into || null, ...filled(line, ["length"]),
      ...(line.into ? { ...filled(line, ["at"]), start: line.start } : {}),
      turns: line.turns.map((turn) => ({ ...filled(turn, ["at"]), to: turn.to })),
    })),
    machines: shop.machines.map((row) => ({ id: row.id.trim(), machine: row.machine, line: row.line, side: row.side, ...filled(row, COLUMNS) })),
    ...collector(shop),
  };
}
/** The states that pipes are chosen for: none named, each machine alone; else these and the machines that run together. */
export function states(shop = state) {
  const ids = shop.machines.map((row) => row.id.trim());
  const pairs = shop.together.filter((pair) => pair.every((id) => ids.includes(id)));
  return pairs.length ? { states: [...ids.map((id) => [id]), ...pairs].map((open) => ({ name: open.join(" + "), open })) } : {};
}
function collector(shop, inlet) {
  const known = filled(shop, ["greatest_flow", "greatest_suction"]);
  const told = { ...(Object.keys(known).length ? { known_by: known } : {}), ...inlet };
  return Object.keys(told).length ? { collector: told } : {};
}

/** What is asked of layouts: the room and where machines stand in it; null where a place cannot be read. */
export function room() {
  const number = (name) => lengthOf(state[name], state.units);
  const [wide, deep, high, x, y] = ["room_length", "room_width", "duct_height", "inlet_x", "inlet_y"].map(number);
  const courses = laid(state);
  const places = state.machines.map((row) => ({ found: placeOf(state, row, courses), drop: lengthOf(row.drop, state.units) }));
  if ([wide, deep, high, x, y].includes(null) || places.some(({ found, drop }) => !found || drop === null)) return null;
  return {
    units: state.units, dust: state.dust, room: { corners: [[0, 0], [wide, 0], [wide, deep], [0, deep]], duct_height: high },
    ...collector(state, { inlet: { place: [x, y, high], direction: "+x" } }),
    ...states(),
    machines: state.machines.map((row, number) => ({
      id: row.id.trim(), machine: row.machine, ...filled(row, ["size", "port", "hose"]), place: [...places[number].found.place, high - places[number].drop],
    })),
  };
}

/** The page's own lines and machines as a layout has them; `name` is what a line is called before its number. */
export function asLaid(layout, name) {
  const called = new Map(layout.outline.lines.map((line, number) => [line.id, `${name} ${number + 1}`]));
  const lines = rowsOf(layout.outline.lines).map((line) => ({
    ...line, id: called.get(line.id), into: called.get(line.into) ?? "", at: line.into ? written(line.at) : "", length: written(line.length), turns: line.turns.map((turn) => ({ ...turn, at: written(turn.at) })),
  }));
  const machines = state.machines.map((row) => {
    const found = layout.outline.machines.find((one) => one.id === row.id.trim());
    return { ...row, line: called.get(found.line), at: written(found.at), off: written(found.off ?? 0), side: found.side ?? "left" };
  });
  return { ...state, lines, machines };
}

/** Names that are the visitor's own. */
export const own = () => new Set([...state.lines, ...state.machines].map((one) => one.id));

function each(change) {
  for (const name of PLAIN) state[name] = change(state[name], name);
  for (const row of state.lines) {
    for (const name of ["length", "at"]) row[name] = change(row[name], name);
    for (const turn of row.turns) turn.at = change(turn.at, "at");
  }
  for (const row of state.machines) for (const name of COLUMNS) row[name] = change(row[name], name);
}
/** Turns what was typed into other units or another language's decimals, where it is a plain number. */
export function convert(units, language) {
  const from = state.units;
  state.language = language;
  state.units = units;
  each((typed, name) => {
    const value = plain(typed), kind = KINDS[name];
    if (value === null) return typed;
    if (units === from) return typed.trim().replace(/[.,]/, language === "de" ? "," : ".");
    return written(units === "metric" ? value * FACTORS[kind] : value / FACTORS[kind], kind === "length" ? 2 : 1);
  });
}
