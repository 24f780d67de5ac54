// The floor plan: drawn from the same rows that are typed; a machine dragged, or moved by arrow keys, changes its row.
import { corners, distances, laid, lengthOf, placeOf } from "./geometry.js";

export const STEP = { us: 0.5, metric: 0.1 }; // ft, m: what a machine moves by; with Shift five times as far
const GRID = { us: 5, metric: 1 };
const MARGIN = 26, REACH = 16, SHORT = 24;
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

export function shape(tag, fields = {}, ...inside) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(fields)) node.setAttribute(name, value);
  node.append(...inside);
  return node;
}

/** The plan as an SVG of so many pixels; `movable` says of a machine how it is called, else the plan stands still. */
export function drawn(shop, width, { sizes = [], movable = null, words }) {
  const room = [lengthOf(shop.room_length, shop.units) ?? 0, lengthOf(shop.room_width, shop.units) ?? 0];
  const inlet = [lengthOf(shop.inlet_x, shop.units) ?? 0, lengthOf(shop.inlet_y, shop.units) ?? 0];
  const courses = laid(shop);
  const machines = shop.machines.map((machine, number) => ({ machine, number, ...placeOf(shop, machine, courses) }));
  const seen = [[0, 0], room, inlet, ...[...courses.values()].flatMap(corners), ...machines.flatMap((one) => (one.place ? [one.place] : []))];
  const [left, right] = [Math.min(...seen.map(([x]) => x)), Math.max(...seen.map(([x]) => x))];
  const [low, high] = [Math.min(...seen.map(([, y]) => y)), Math.max(...seen.map(([, y]) => y))];
  const scale = (width - 2 * MARGIN) / Math.max(right - left, 1e-6);
  const height = Math.min(2 * MARGIN + (high - low) * scale, 4 * width);
  const at = ([x, y]) => [MARGIN + (x - left) * scale, height - MARGIN - (y - low) * scale];
  const svg = shape("svg", { viewBox: `0 0 ${width} ${height}`, class: "floor", role: "group", "aria-label": words.plan });
  svg.append(...grid(shop, room, at), wall(room, at));
  const line = (points, kind) => shape("polyline", { class: kind, points: points.map((one) => at(one).join()).join(" ") });
  for (const { foot, place } of machines) if (place) svg.append(line([foot, place], "stub"));
  for (const course of courses.values()) svg.append(line(corners(course), "duct"));
  for (const { foot } of machines) if (foot) svg.append(shape("circle", { class: "joint", cx: at(foot)[0], cy: at(foot)[1], r: 3 }));
  svg.append(collector(at(inlet), words));
  for (const { path, told } of sizes) svg.append(...size(path.map(([x, y]) => at([x + inlet[0], y + inlet[1]])), told));
  for (const one of machines) if (one.place) svg.append(symbol(one, at(one.place), width, movable));
  svg.turnBack = (x, y) => [left + (x - MARGIN) / scale, low + (height - MARGIN - y) / scale];
  return svg;
}
function grid(shop, [wide, deep], at) {
  const step = GRID[shop.units], lines = [];
  const room = Math.max(wide, deep) <= 100 * step;
  for (let x = step; room && x < wide; x += step) lines.push([[x, 0], [x, deep]]);
  for (let y = step; room && y < deep; y += step) lines.push([[0, y], [wide, y]]);
  return lines.map(([from, to]) => shape("line", { class: "grid", x1: at(from)[0], y1: at(from)[1], x2: at(to)[0], y2: at(to)[1] }));
}
function wall(room, at) {
  const [x, y] = at([0, room[1]]), [right, bottom] = at([room[0], 0]);
  return shape("rect", { class: "wall", x, y, width: right - x, height: bottom - y });
}
function collector([x, y], words) {
  const title = shape("title");
  title.textContent = words.collector;
  return shape("g", { class: "collector", role: "img", "aria-label": words.collector }, title,
    shape("rect", { x: x - 18, y: y - 13, width: 18, height: 26, rx: 3 }), shape("path", { d: `M${x} ${y - 6}l8 6l-8 6z` }));
}
/** A diameter over the middle of a duct, or right of one that runs up; none where the duct is shorter than that. */
function size([[ax, ay], [bx, by]], told) {
  const upright = Math.abs(ax - bx) < Math.abs(ay - by), x = (ax + bx) / 2, y = (ay + by) / 2;
  if (Math.hypot(ax - bx, ay - by) < SHORT) return [];
  const text = shape("text", { class: "size", ...(upright ? { x: x + 8, y: y + 4 } : { x, y: y - 7, "text-anchor": "middle" }) });
  text.textContent = told;
  return [text];
}
function symbol({ machine, number, foot, place, heading }, [x, y], width, movable) {
  const box = shape("rect", { class: "machine", x: x - 9, y: y - 9, width: 18, height: 18, rx: 2 });
  const name = shape("text", movable ? beside(x, y, width, (place[1] - foot[1] || heading[1]) >= 0) : { class: "number", x, y: y + 4.5, "text-anchor": "middle" });
  name.textContent = movable ? machine.id : number + 1;
  if (!movable) return shape("g", {}, box, name);
  const hit = shape("circle", { class: "hit", cx: x, cy: y, r: REACH });
  return shape("g", {
    class: "movable", tabindex: 0, role: "button", "data-machine": number, "aria-label": movable(machine),
    "aria-roledescription": movable.kind, "aria-describedby": "plan-hint",
  }, hit, box, name);
}

/** Where a name stands: on the side away from the line, and inside the plan. */
function beside(x, y, width, above) {
  const anchor = x > width - 70 ? "end" : x < 70 ? "start" : "middle";
  return { x: anchor === "end" ? x + 9 : anchor === "start" ? x - 9 : x, y: above ? y - REACH : y + REACH + 10, "text-anchor": anchor };
}
/** Shows a plan in place of the one before; what a finger holds stays in the page until it lets go, or the touch would end. */
export function shown(host, svg) {
  for (const old of [...host.children]) old.querySelector(".held") ? old.classList.add("old") : old.remove();
  host.prepend(svg);
}
/** Lets machines of the plan in `host` be moved; `move(number, [x, y])` puts one there and draws anew. */
export function moving(host, shop, move) {
  let held = null;
  const svg = () => host.querySelector("svg");
  const place = (event) => {
    const box = svg().getBoundingClientRect(), view = svg().viewBox.baseVal;
    return svg().turnBack(((event.clientX - box.left) * view.width) / box.width, ((event.clientY - box.top) * view.height) / box.height);
  };
  host.addEventListener("pointerdown", (event) => {
    const found = event.target.closest("[data-machine]");
    if (!found || event.button !== 0) return;
    event.preventDefault();
    held = { number: Number(found.dataset.machine), id: event.pointerId };
    found.classList.add("held");
    host.setPointerCapture(event.pointerId); // of the host: the symbol itself is drawn anew
    focus(host, held.number);
  });
  // A finger on a machine moves it and never scrolls the page, whatever a browser makes of `touch-action` inside a drawing.
  host.addEventListener("touchstart", (event) => { if (event.target.closest("[data-machine]")) event.preventDefault(); }, { passive: false });
  host.addEventListener("pointermove", (event) => {
    if (held?.id === event.pointerId) move(held.number, place(event));
  });
  for (const name of ["pointerup", "pointercancel"]) host.addEventListener(name, () => {
    held = null;
    host.querySelector(".held")?.classList.remove("held");
    for (const old of host.querySelectorAll(".old")) old.remove();
  });
  host.addEventListener("keydown", (event) => {
    const found = event.target.closest("[data-machine]"), way = KEYS[event.key];
    if (!found || !way) return;
    event.preventDefault();
    const number = Number(found.dataset.machine);
    const from = placeOf(shop, shop.machines[number], laid(shop)).place;
    const far = STEP[shop.units] * (event.shiftKey ? 5 : 1);
    move(number, [from[0] + way[0] * far, from[1] + way[1] * far]);
  });
}
export function focus(host, number) {
  host.querySelector(`[data-machine="${number}"]`)?.focus({ preventScroll: true });
}

/** The distances of a machine moved to a place, in whole steps along and beside its line; null where its line is not known. */
export function movedTo(shop, number, place) {
  const machine = shop.machines[number], course = laid(shop).get(machine.line);
  if (!course) return null;
  const line = shop.lines.find((one) => one.id === machine.line), step = STEP[shop.units];
  const wall = (value, name) => Math.min(Math.max(value, 0), lengthOf(shop[name], shop.units) ?? Infinity);
  const found = distances(course, [wall(place[0], "room_length"), wall(place[1], "room_width")], true);
  const whole = (value) => Math.round(value / step) * step;
  const at = Math.max(whole(found.at), step), off = whole(found.off);
  const longer = line.length.trim() && at > course.length + 1e-9;
  return { at: longer || !line.length.trim() ? at : Math.min(at, course.length), off, side: off ? found.side : machine.side, longer };
}
