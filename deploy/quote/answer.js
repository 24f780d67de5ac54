// What a quote says: price, air, pairs, what does not hold, the scheme, the parts.
import { shape } from "./plan.js";
import { listed, scheme } from "./scheme.js";
import { money, state, SYMBOLS, told } from "./state.js";
import { PARTS } from "./texts.js";
import { find, made, ofCaution, ofFinding, said, text } from "./words.js";

const DULL = new Set(["upper_velocity", "transport_velocity, cleared by another state"]); // what two machines at once may miss

export function show(answer, together) {
  find("result").hidden = false;
  find("result").classList.remove("stale");
  find("price").textContent = answer.price ? money(answer.price, answer.currency) : "-";
  const date = answer.expires && new Intl.DateTimeFormat(state.language, { dateStyle: "long", timeZone: "UTC" }).format(new Date(answer.expires));
  const notes = [answer.price_complete ? "" : text("incomplete"), date ? `${text("until")} ${date}` : ""];
  find("price-note").textContent = notes.filter(Boolean).join(", ");
  find("order").disabled = !(answer.price && answer.price_complete);
  find("bars").replaceChildren(...bars(answer));
  pairs(answer, together);
  const broken = faults(answer);
  find("faults").replaceChildren(...(broken.length ? broken : [made("li", {}, text("all_holds"))]));
  const drawing = answer.drawings.tree ? scheme(answer.drawings.tree) : { remarks: [] };
  find("tree").replaceChildren(...(drawing.picture ? [drawing.picture] : []));
  find("marks-title").hidden = !drawing.remarks.length;
  find("marks").replaceChildren(...listed(drawing.remarks));
  parts(answer.parts);
  find("cautions").replaceChildren(...answer.cautions.map((one) => made("li", {}, ofCaution(one))));
}

/** A bar for each state: what its machines need against what they get. */
export function bars(answer, numbered = false) {
  const rows = answer.states.map((one) => {
    const open = one.hoods.filter((hood) => hood.open);
    const sum = (name) => open.reduce((all, hood) => all + (hood[name] ?? 0), 0);
    return { name: one.name, needs: sum("design_flow"), gets: sum("flow") };
  });
  const most = Math.max(1, ...rows.flatMap((one) => [one.needs, one.gets]));
  const unit = SYMBOLS[answer.preset].flow;
  const alone = answer.states.filter((one) => one.hoods.filter((hood) => hood.open).length < 2).length;
  return rows.map((one, number) => {
    const lacks = one.gets < one.needs * (1 - 1e-6);
    const bar = shape("svg", { viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
      shape("rect", { class: "track", x: 0, y: 0, width: 100, height: 10 }),
      shape("rect", { class: lacks ? "short" : "gets", x: 0, y: 2, width: (100 * one.gets) / most, height: 6 }),
      shape("line", { class: "needs", x1: (100 * one.needs) / most, x2: (100 * one.needs) / most, y1: 0, y2: 10, "vector-effect": "non-scaling-stroke" }));
    const words = made("p", {}, `${text("needs")} ${told(one.needs, unit)}, ${text("gets")} ${told(one.gets, unit)}`);
    if (lacks) words.append(" - ", made("span", { className: "short-text" }, text("short")));
    return made("div", { className: "bar" }, made("span", {}, numbered && number < alone ? `${number + 1} ${one.name}` : one.name), bar, words);
  });
}
function pairs(answer, together) {
  const sized = answer.states.filter((one) => one.hoods.filter((hood) => hood.open).length > 1);
  find("pairs-title").hidden = find("pairs-hint").hidden = !answer.pairs.length && !sized.length;
  find("pairs-hint").textContent = text(sized.length ? "pairs_sized" : "pairs_hint");
  find("pairs").replaceChildren(...sized.map((one) => sizedPair(one, together)), ...answer.pairs.map((one) => pair(answer, one, together)));
}
function line(name, holds, words, label, act) {
  const button = made("button", { type: "button", ariaLabel: `${text(label)} ${name}` }, text(label));
  button.addEventListener("click", act);
  return made("li", { className: holds ? "good" : "bad" }, made("b", {}, name), `: ${words} `, button);
}
function sizedPair(one, together) {
  const words = one.holds ? text("pair_holds") : `${text("pair_not")} (${short(one)})`;
  return line(one.name, one.holds, words, "alone", () => together(null));
}
function pair(answer, one, together) {
  const broken = one.broken.filter((rule) => !DULL.has(rule.rule));
  const holds = one.operating_point === "operating-point" && !broken.length;
  const fast = one.broken.some((rule) => rule.rule === "upper_velocity");
  const words = holds ? text(fast ? "pair_fast" : "pair_holds") : `${text("pair_not")} (${why(answer, broken) || text("pair_else")})`;
  return line(one.machines.join(" + "), holds, words, "both", () => together(one.machines));
}
/** Why a state does not hold, in few words. */
export function short(one) {
  const words = [["below-transport-velocity", "settles"], ["hood-starved", "starves"]].filter(([code]) => one.findings.includes(code));
  return words.map(([, name]) => text(name)).join(", ") || text("fails");
}
function why(answer, broken) {
  const rows = (rule) => [...new Set(broken.filter((one) => one.rule === rule && one.run).map((one) => answer.rows[one.run] ?? one.run))].join(", ");
  return [["transport_velocity", "pair_slow"], ["design_flow", "pair_short"]].filter(([rule]) => rows(rule))
    .map(([rule, words]) => said(words, { where: rows(rule) })).join("; ");
}

/** What does not hold, the worst of each kind, each with the one change that mends it. */
export function faults(answer) {
  const out = [];
  for (const one of answer.states.filter((one) => !one.holds && one.fix?.open?.length)) {
    out.push(made("li", {}, `${said("running", one)}: ${text("as_well")} ${one.fix.open.join(", ")}`));
  }
  const seen = new Set(out.length ? ["open-further-gates"] : []);
  for (const one of answer.findings.filter((one) => one.severity !== "note")) {
    if (seen.has(one.code)) continue; // the first of each kind is the worst; the scheme marks them all
    seen.add(one.code);
    const german = state.language === "de", place = answer.rows[one.run] ?? one.run ?? one.state;
    const node = made("li", {}, ofFinding(one) + (german && place ? ` (${place})` : ""));
    if (one.suggestion && !german) node.append(` - ${one.suggestion.text}`);
    out.push(node);
  }
  if (answer.outcome !== "sized") out.unshift(made("li", {}, text("no_tree")));
  return out;
}

function what(line) {
  const [kind, ...more] = line.split(", ");
  return [PARTS[state.language][kind] ?? kind.replaceAll("-", " "), ...more.map(detail)].join(", ");
}
function detail(words) {
  if (/^[\d.]+ deg$/.test(words)) return `${words.replace(" deg", "").replace(".", state.language === "de" ? "," : ".")}°`;
  return PARTS[state.language][words] ?? words.replaceAll("-", " ");
}
function parts(list) {
  const heads = ["item", "what", "quantity", "price"];
  const number = (name) => (name === "quantity" || name === "price" ? "number" : "");
  const head = made("tr", {}, ...heads.map((name) => made("th", { scope: "col", className: number(name) }, text(name))));
  const { length, diameter } = SYMBOLS[state.units];
  const lines = (list?.lines ?? []).map((line) => made("tr", {},
    made("td", {}, line.item ?? "-"), made("td", {}, what(line.what) + (line.diameter ? `, ${told(line.diameter, diameter, 1)}` : "")),
    made("td", { className: "number" }, line.quantity ?? told(line.length ?? 0, length, 1)),
    made("td", { className: "number" }, line.price ? money(line.price, "") : "-")));
  find("parts").replaceChildren(made("thead", {}, head), made("tbody", {}, ...lines));
}
