// Where lines and machines lie, seen from above: x to the right, y up, in the page's own unit of length. Distances along a line
// count from its downstream end; `left` is that of somebody who looks up the line from there. The service lays out alike.
const NEAR = 1e-9;
const INCHES = { us: 1 / 12, metric: 0.0254 };
const FEET = { us: 1, metric: 0.3048 };
const METRES = { us: 1 / 0.3048, metric: 1 };
const PART = /^(\d+(?:\.\d+)?(?:[ -]\d+\/\d+)?|\d+\/\d+)\s*(feet|foot|ft|'|inches|inch|in|"|mm|cm|m)?\.?\s*/i;

/** A plain number with point or comma as a number; null for all else. */
export function plain(typed) {
  const text = typed.trim();
  return /^-?\d+([.,]\d+)?$/.test(text) && !/,\d{3}$/.test(text) ? Number(text.replace(",", ".")) : null;
}

/** A length that was typed, such as `18`, `18 ft 6 in` or `3,5 m`; null where it cannot be read. */
export function lengthOf(typed, units) {
  const number = plain(typed);
  if (number !== null) return number;
  let rest = typed.trim().replaceAll("′", "'").replaceAll("″", '"').replace(/(\d),(\d)/g, "$1.$2");
  if (!rest) return null;
  let sum = 0;
  for (let found; rest; rest = rest.slice(found[0].length)) {
    found = PART.exec(rest);
    if (!found || !found[2]) return null;
    const unit = found[2].toLowerCase();
    const factor = unit === "m" ? METRES : unit === "cm" || unit === "mm" ? METRES : unit.startsWith("i") || unit === '"' ? INCHES : FEET;
    sum += amount(found[1]) * factor[units] * (unit === "cm" ? 0.01 : unit === "mm" ? 0.001 : 1);
  }
  return sum;
}
function amount(text) {
  return text.split(/[ -]/).reduce((sum, part) => sum + (part.includes("/") ? part.split("/")[0] / part.split("/")[1] : Number(part)), 0);
}

const turned = ([x, y], to) => (to === "left" ? [-y, x] : to === "right" ? [y, -x] : [x, y]);
const point = (start, [x, y], far) => [start[0] + x * far, start[1] + y * far];

/** The leg on which a distance lies: the one before a corner that stands there. */
function legAt(course, at) {
  if (at >= course.length - NEAR) return course.legs.at(-1);
  return course.legs.findLast((leg, number) => number === 0 || leg.at < at - NEAR);
}

/** Every line that can be laid: id -> its legs from downstream up and its length; what cannot be read is left out. */
export function laid(shop) {
  const read = (typed) => lengthOf(typed, shop.units);
  const courses = new Map();
  const left = [...shop.lines];
  for (let before = -1; left.length && left.length !== before; ) {
    before = left.length;
    for (const line of left.filter((one) => !one.into || courses.has(one.into))) {
      left.splice(left.indexOf(line), 1);
      const course = courseOf(shop, line, courses, read);
      if (course) courses.set(line.id, course);
    }
  }
  return courses;
}
function courseOf(shop, line, courses, read) {
  let start = [read(shop.inlet_x) ?? 0, read(shop.inlet_y) ?? 0];
  let heading = [1, 0];
  if (line.into) {
    const host = courses.get(line.into), at = read(line.at);
    if (at === null || at > host.length + NEAR) return null;
    const leg = legAt(host, at);
    start = point(leg.start, leg.heading, at - leg.at);
    heading = turned(leg.heading, line.start);
  }
  const turns = line.turns.map((turn) => ({ at: read(turn.at), to: turn.to })).sort((one, two) => one.at - two.at);
  const length = line.length.trim() ? read(line.length) : farthest(shop, line, read);
  if (length === null || !(length > 0) || turns.some((turn) => turn.at === null || turn.at > length)) return null;
  const legs = [{ at: 0, start, heading }];
  for (const turn of turns) {
    const last = legs.at(-1);
    legs.push({ at: turn.at, start: point(last.start, last.heading, turn.at - last.at), heading: turned(last.heading, turn.to) });
  }
  return { legs, length };
}
/** How far along the last that joins a line does so. */
function farthest(shop, line, read) {
  const guests = [...shop.machines.filter((one) => one.line === line.id), ...shop.lines.filter((one) => one.into === line.id)];
  return guests.reduce((far, one) => Math.max(far, read(one.at) ?? 0), 0);
}

/** Corners of a course, from its downstream end to its end. */
export function corners(course) {
  const last = course.legs.at(-1);
  return [...course.legs.map((leg) => leg.start), point(last.start, last.heading, course.length - last.at)];
}

/** Where a machine's pipe leaves its line and where it comes down, and how the line runs there; null where that cannot be told. */
export function placeOf(shop, machine, courses) {
  const course = courses.get(machine.line), at = lengthOf(machine.at, shop.units);
  const off = machine.off.trim() ? lengthOf(machine.off, shop.units) : 0;
  if (!course || at === null || off === null || at > course.length + NEAR) return null;
  const leg = legAt(course, at);
  const foot = point(leg.start, leg.heading, at - leg.at);
  return { foot, place: point(foot, turned(leg.heading, machine.side), off), heading: leg.heading };
}

/** The distances by which a machine of a line stands nearest to a place; `open`: the line may end wherever its last machine is. */
export function distances(course, [x, y], open) {
  let best = null;
  course.legs.forEach((leg, number) => {
    const next = course.legs[number + 1];
    const end = next ? next.at - leg.at : open ? Infinity : course.length - leg.at;
    const [dx, dy] = leg.heading, rx = x - leg.start[0], ry = y - leg.start[1];
    const along = Math.min(Math.max(rx * dx + ry * dy, 0), end);
    const aside = dx * ry - dy * rx;
    const away = Math.hypot(rx - along * dx, ry - along * dy);
    if (!best || away < best.away - NEAR) best = { away, at: leg.at + along, off: Math.abs(aside), side: aside < 0 ? "right" : "left" };
  });
  return best;
}

/** Lines as rows of the page, from those of a layout, whose paths are places and whose turns are right angles. */
export function rowsOf(lines) {
  const courses = new Map();
  return lines.map((line) => {
    const host = courses.get(line.into);
    const legs = [];
    let far = 0;
    line.path.slice(1).forEach(([x, y], number) => {
      const [fx, fy] = line.path[number], long = Math.hypot(x - fx, y - fy);
      const heading = [Math.round((x - fx) / long), Math.round((y - fy) / long)];
      if (!legs.length || legs.at(-1).heading.join() !== heading.join()) legs.push({ at: far, start: [fx, fy], heading });
      far += long;
    });
    courses.set(line.id, { legs, length: far });
    const side = ([ax, ay], [bx, by]) => (Math.abs(ax * by - ay * bx) < NEAR ? "ahead" : ax * by - ay * bx > 0 ? "left" : "right");
    return {
      id: line.id, into: line.into ?? "", at: line.into ? line.at : null, length: far,
      start: host ? side(legAt(host, line.at).heading, legs[0].heading) : "ahead",
      turns: legs.slice(1).map((leg, number) => ({ at: leg.at, to: side(legs[number].heading, leg.heading) })),
    };
  });
}
