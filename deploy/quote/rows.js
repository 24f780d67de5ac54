// The rows: fields of the room, of lines and of machines, made of the state; what is typed goes into it at once.
import { distances, laid, placeOf } from "./geometry.js";
import { COLUMNS, KINDS, PLAIN, state, SYMBOLS, written } from "./state.js";
import { DUSTS, MACHINES } from "./texts.js";
import { find, made, ofFault, text, word } from "./words.js";

let changed;
export const field = (name) => find("shop").elements.namedItem(name);

function labelled(name, inside, kind = KINDS[name]) {
  return made("label", {}, made("span", {}, text(name)), " ", ...(kind ? [made("i", {}, SYMBOLS[state.units][kind])] : []), inside);
}
function typed(row, name, at, label = name, then = () => {}) {
  const input = made("input", { value: row[name], autocomplete: "off", name: at });
  if (KINDS[name]) input.inputMode = "decimal";
  input.addEventListener("input", () => { then(row[name], input.value); row[name] = input.value; changed(); });
  return labelled(label, input, KINDS[name]);
}
function chosen(row, name, at, label, options, then = () => {}) {
  const list = made("select", { name: at }, ...options.map(([value, told]) => made("option", { value, selected: value === row[name] }, told)));
  list.addEventListener("change", () => { const before = row[name]; row[name] = list.value; then(before); changed(); });
  return labelled(label, list, null);
}
function button(label, name, act, fields = {}) {
  const node = made("button", { type: "button", ariaLabel: label, ...fields }, text(name));
  node.addEventListener("click", act);
  return node;
}
function group(name, number, fields) {
  return made("div", { className: "row", ariaLabel: `${text(name)} ${number + 1}`, role: "group" }, ...fields);
}

/** Writes every row anew; `then` is called after each change. */
export function write(then) {
  changed = then;
  const dusts = chosen(state, "dust", "dust", "dust", DUSTS.map((name) => [name, word(name)]));
  find("plain").replaceChildren(...PLAIN.map((name) => typed(state, name, name)), dusts);
  find("lines").replaceChildren(...state.lines.map(line));
  find("rows").replaceChildren(...state.machines.map(machine));
}
function again(focus) {
  write(changed);
  changed();
  (typeof focus === "string" ? field(focus) : focus)?.focus();
}
function renamed(old, name) {
  for (const one of state.lines) if (one.into === old) one.into = name;
  for (const one of state.machines) if (one.line === old) one.line = name;
  for (const list of document.querySelectorAll("[name^=line-into-], [name^=line-of-]")) {
    for (const option of list.options) if (option.value === old) Object.assign(option, { value: name, textContent: name });
  }
}
function called(old, name) {
  state.together = state.together.map((pair) => pair.map((id) => (id === old.trim() ? name.trim() : id)));
}
function above(id) {
  const out = new Set([id]);
  for (let size = 0; size !== out.size; ) {
    size = out.size;
    for (const one of state.lines) if (out.has(one.into)) out.add(one.id);
  }
  return out;
}
function line(row, number) {
  const mine = above(row.id);
  const hosts = [["", text("collector")], ...state.lines.filter((one) => !mine.has(one.id)).map((one) => [one.id, one.id])];
  const name = typed(row, "id", `line-id-${number}`, "name", renamed);
  const into = chosen(row, "into", `line-into-${number}`, "into", hosts, () => {
    if (row.into && row.start === "ahead") row.start = "left";
    if (!row.into) row.start = "ahead";
    again(`line-into-${number}`);
  });
  const joins = row.into ? [typed(row, "at", `line-at-${number}`, "joins_at"), chosen(row, "start", `line-start-${number}`, "start", ways(true))] : [];
  const removable = state.lines.length > 1 && !state.lines.some((one) => one.into === row.id);
  const remove = button(`${text("remove")}: ${row.id}`, "remove", () => {
    state.lines.splice(number, 1);
    for (const one of state.machines) if (one.line === row.id) one.line = row.into || state.lines[0].id;
    again(find("more-lines"));
  }, { disabled: !removable });
  const turn = button(`${text("add_turn")}: ${row.id}`, "add_turn", () => {
    row.turns.push({ at: "", to: "left" });
    again(`turn-at-${number}-${row.turns.length - 1}`);
  });
  const fields = [name, into, ...joins, typed(row, "length", `line-length-${number}`, "length")];
  return group("line_row", number, [
    made("div", { className: "fields" }, ...fields),
    ...row.turns.map((one, which) => made("div", { className: "fields" }, typed(one, "at", `turn-at-${number}-${which}`, "turn"),
      chosen(one, "to", `turn-to-${number}-${which}`, "turn_to", ways(false)),
      button(`${text("remove_turn")} ${which + 1}: ${row.id}`, "remove_turn", () => { row.turns.splice(which, 1); again(`line-length-${number}`); }))),
    made("p", { className: "actions" }, turn, remove),
  ]);
}
const ways = (ahead) => ["ahead", "left", "right"].slice(ahead ? 0 : 1).map((name) => [name, text(name)]);

function machine(row, number) {
  const kinds = MACHINES.map((name) => [name, word(name)]);
  const lines = state.lines.map((one) => [one.id, one.id]);
  const sides = [["left", text("on_left")], ["right", text("on_right")]];
  const remove = button(`${text("remove")}: ${row.id}`, "remove", () => { state.machines.splice(number, 1); again(find("more")); }, { disabled: state.machines.length === 1 });
  const columns = Object.fromEntries(COLUMNS.map((name) => [name, typed(row, name, `${name}-${number}`)]));
  const { size, at, off, drop, port, hose } = columns;
  return group("row", number, [made("div", { className: "fields" },
    typed(row, "id", `id-${number}`, "name", called), chosen(row, "machine", `machine-${number}`, "machine", kinds), size,
    chosen(row, "line", `line-of-${number}`, "line", lines, (before) => stay(row, number, before)), at, off,
    chosen(row, "side", `side-${number}`, "side", sides), drop, port, hose, remove)]);
}
/** A machine that changes its line stays where it stands. */
function stay(row, number, before) {
  const courses = laid(state), found = placeOf(state, { ...row, line: before }, courses), course = courses.get(row.line);
  if (!found || !course) return;
  put(number, distances(course, found.place, !state.lines.find((one) => one.id === row.line).length.trim()));
}
/** Puts distances into a machine's row and its fields. */
export function put(number, { at, off, side }) {
  Object.assign(state.machines[number], { at: written(at), off: written(off), side });
  for (const name of ["at", "off", "side"]) field(`${name}-${number}`).value = state.machines[number][name];
}
export function lengthen(id, length) {
  const number = state.lines.findIndex((one) => one.id === id);
  field(`line-length-${number}`).value = state.lines[number].length = written(length);
}
function free(rows, name) {
  const used = new Set([...state.lines, ...state.machines].map((one) => one.id));
  let number = rows.length + 1;
  while (used.has(`${text(name)} ${number}`)) number += 1;
  return `${text(name)} ${number}`;
}
export function addMachine() {
  const us = state.units === "us", course = laid(state).get(state.lines[0].id);
  const at = course ? written(Math.round(6.2 * course.length) / 10) : ""; // on the way, where room is likely
  state.machines.push({
    id: free(state.machines, "row"), machine: "lathe", size: "", line: state.lines[0].id, at, off: "", side: "right", drop: written(us ? 5 : 1.5),
    port: us ? "4" : "100", hose: written(us ? 4 : 1.2),
  });
  again(`id-${state.machines.length - 1}`);
}
export function addLine() {
  const host = state.lines[0].id, course = laid(state).get(host);
  const at = course ? written(Math.round(5 * course.length) / 10) : "";
  state.lines.push({ id: free(state.lines, "line_row"), into: host, at, start: "left", length: written(state.units === "us" ? 6 : 2), turns: [] });
  again(`line-id-${state.lines.length - 1}`);
}

const PLACES = [
  [/^(?:outline\.)?machines\[(\d+)\]\.?(\w*)/, ([, at, name]) => `${name === "line" ? "line-of" : name === "place" ? "at" : name || "id"}-${at}`],
  [/^outline\.lines\[(\d+)\]\.turns\[(\d+)\]\.(\w+)/, ([, at, turn, name]) => `turn-${name}-${at}-${turn}`],
  [/^outline\.lines\[(\d+)\]\.?(\w*)/, ([, at, name]) => `line-${name || "id"}-${at}`],
  [/^(?:outline\.)?collector\.known_by\.(\w+)/, ([, name]) => name],
  [/^room\.duct_height/, () => "duct_height"], [/^room\.corners/, () => "room_length"], [/^collector\.inlet/, () => "inlet_x"],
];
/** Marks the fields that faults are of, and says each beside its field. */
export function mark(faults) {
  for (const node of document.querySelectorAll(".wrong")) node.remove();
  for (const node of document.querySelectorAll("[aria-invalid]")) { node.removeAttribute("aria-invalid"); node.removeAttribute("aria-describedby"); }
  faults.forEach((fault, number) => {
    const [pattern, name] = PLACES.find(([one]) => one.test(fault.path)) ?? [];
    const place = pattern && (field(name(pattern.exec(fault.path))) ?? field(name(pattern.exec(fault.path)).replace(/^[a-z_]+/, "id")));
    const note = made("p", { className: "wrong", id: `wrong-${number}` }, ofFault(fault));
    if (!place) return find("elsewhere").append(note);
    place.setAttribute("aria-invalid", "true");
    place.setAttribute("aria-describedby", note.id);
    place.closest(".row, fieldset").append(note);
  });
}
