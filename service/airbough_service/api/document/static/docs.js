"use strict";

const SAMPLE_ADDRESS = "http://127.0.0.1:8000";
const wide = matchMedia("(min-width: 60rem)");
let language = "curl";

/* Asking */

function addressOf(form) {
  let path = form.dataset.path;
  const query = new URLSearchParams();
  for (const field of form.querySelectorAll("[data-in]")) {
    if (field.dataset.in === "path") path = path.replace(`{${field.name}}`, encodeURIComponent(field.value));
    else if (field.value !== "") query.append(field.name, field.value);
  }
  const told = query.toString();
  return told ? `${path}?${told}` : path;
}

function requestOf(form) {
  const headers = {};
  const key = document.getElementById("key").value.trim();
  if (key) headers.Authorization = `Bearer ${key}`;
  const accept = form.querySelector("#accept");
  if (accept) headers.Accept = accept.value;
  const body = form.querySelector("textarea");
  if (body) headers["Content-Type"] = body.dataset.type;
  return { method: form.dataset.method, headers, body: body ? body.value : undefined, cache: "no-store" };
}

async function send(event) {
  event.preventDefault();
  const form = event.target;
  const place = form.parentElement.querySelector(".answer");
  const button = form.querySelector(".send button");
  const start = performance.now();
  button.disabled = true;
  try {
    const response = await fetch(addressOf(form), requestOf(form));
    const text = await response.text();
    show(form, place, response, text, Math.round(performance.now() - start));
  } catch (error) {
    clear(form, place);
    status(place, `Nobody answered: ${error.message}`, false);
  } finally {
    button.disabled = false;
  }
}

/* Showing */

function clear(form, place) {
  place.hidden = false;
  for (const part of place.querySelectorAll(".hint, .faults, .told")) part.hidden = true;
  place.querySelector(".pictures").replaceChildren();
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}

function status(place, words, good) {
  const line = place.querySelector(".line");
  line.textContent = words;
  line.className = `line ${good ? "good" : "bad"}`;
}

function show(form, place, response, text, milliseconds) {
  clear(form, place);
  const type = (response.headers.get("Content-Type") || "").split(";")[0];
  const told = /[/+]json$/.test(type) ? parsed(text) : undefined;
  const size = new TextEncoder().encode(text).length.toLocaleString("en");
  status(place, `${response.status} ${response.statusText} · ${type || "no body"} · ${size} bytes · ${milliseconds} ms`, response.ok);
  for (const part of place.querySelectorAll(".told")) part.hidden = false;
  place.querySelector("dl").replaceChildren(...sorted(response.headers).map(([name, value]) => row(name, value)));
  place.querySelector("pre").textContent = told === undefined ? text : JSON.stringify(told, null, 1);
  hint(place, response.status, told);
  faults(form, place, told);
  pictures(place, type, text, told);
}

function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

function made(tag, text, ...inside) {
  const element = document.createElement(tag);
  if (text) element.textContent = text;
  element.append(...inside);
  return element;
}

function row(name, value) {
  return made("div", "", made("dt", name), made("dd", value));
}

/* Words in which what stands between backticks is code. */
function prose(words) {
  return words.split("`").map((piece, index) => (index % 2 ? made("code", piece) : piece));
}

/* Those first that tell something of this answer. */
function sorted(headers) {
  const usual = /^(content-security-policy|cross-origin-|referrer-policy|server$|x-content-type|x-frame|date$|vary$)/;
  return [...headers].sort(([one], [other]) => usual.test(one) - usual.test(other));
}

const HINTS = {
  401: "This server asks for a key: put one into the field at the top of the page and send again.",
  403: `A publishable key opens only what it names, and only to its origins. This page's origin is ${location.origin}; a GET from here bears none.`,
  429: "The rate is spent: Retry-After among the headers says how many seconds to wait.",
};

function hint(place, code, told) {
  const words = told && told.type && HINTS[code];
  const shown = place.querySelector(".hint");
  shown.hidden = !words;
  shown.textContent = words || "";
}

function faults(form, place, told) {
  const found = told && told.type && Array.isArray(told.errors) ? told.errors : [];
  const shown = place.querySelector(".faults");
  shown.hidden = found.length === 0;
  shown.querySelector("ul").replaceChildren(...found.map((fault) => faultItem(form, fault)));
}

function faultItem(form, fault) {
  const go = wayTo(form, fault.path);
  const where = made(go ? "button" : "code", fault.path || "the whole body");
  if (go) {
    where.type = "button";
    where.title = "Show the place";
    where.addEventListener("click", go);
  }
  return made("li", "", where, " ", made("b", fault.code), " ", ...prose(fault.detail));
}

/* The way from a fault's path to what was typed: a parameter's field, or its place in the body. */
function wayTo(form, path) {
  if (!path) return undefined;
  const field = [...form.querySelectorAll("[data-in]")].find((one) => one.name === path);
  if (field) {
    field.setAttribute("aria-invalid", "true");
    return () => field.focus();
  }
  const body = form.querySelector("textarea");
  if (!body || body.dataset.type !== "application/json") return undefined;
  const words = path.match(/[^.[\]]+/g) || [];
  const place = nearest(body.value, words);
  return place && (() => select(body, place));
}

function nearest(text, words) {
  for (let length = words.length; length > 0; length--) {
    const place = placeOf(text, words.slice(0, length));
    if (place) return place;
  }
  return undefined;
}

function select(body, [start, end]) {
  body.focus();
  body.setSelectionRange(start, end);
  const line = body.value.slice(0, start).split("\n").length - 1;
  body.scrollTop = Math.max(0, (line - 3) * (body.scrollHeight / body.value.split("\n").length));
}

/* Where in a JSON text the value at a path stands; the text may be broken, then maybe nowhere. */
function placeOf(text, words) {
  let at = 0;
  const blank = () => { while (at < text.length && /\s/.test(text[at])) at++; };
  const string = () => {
    const start = at++;
    while (at < text.length && text[at] !== '"') at += text[at] === "\\" ? 2 : 1;
    return text.slice(start + 1, at++);
  };
  const inside = (object, depth) => {
    at++;
    for (let index = 0; at < text.length; index++) {
      blank();
      if ("]}".includes(text[at])) break;
      let name = String(index);
      if (object) {
        name = string();
        blank();
        at++;
      }
      const found = value(name === words[depth] ? depth + 1 : NaN);
      if (found) return found;
      blank();
      if (text[at] === ",") at++;
    }
    at++;
    return undefined;
  };
  const value = (depth) => {
    blank();
    const start = at;
    if (text[at] === "{" || text[at] === "[") {
      const found = inside(text[at] === "{", depth);
      if (found) return found;
    } else if (text[at] === '"') string();
    else while (at < text.length && !/[\s,\]}]/.test(text[at])) at++;
    return depth === words.length ? [start, at] : undefined;
  };
  return value(0);
}

function pictures(place, type, text, told) {
  const drawn = type === "image/svg+xml" ? [text] : [told && told.svg, ...Object.values((told && told.drawings) || {})];
  place.querySelector(".pictures").replaceChildren(...drawn.filter((one) => typeof one === "string").map((svg) => {
    const picture = made("img");
    picture.alt = "The drawing in the answer";
    picture.src = `data:image/svg+xml,${encodeURIComponent(svg)}`;
    return picture;
  }));
}

/* The page */

function copying(sample) {
  const button = sample.querySelector(".copy button");
  if (!button || !navigator.clipboard) return;
  button.parentElement.hidden = false;
  button.addEventListener("click", async () => {
    await navigator.clipboard.writeText(sample.querySelector("code").textContent);
    button.textContent = "Copied";
    setTimeout(() => { button.textContent = "Copy"; }, 2000);
  });
}

function prepare(main) {
  for (const form of main.querySelectorAll("form.try")) {
    form.addEventListener("submit", send);
    form.addEventListener("reset", () => clear(form, form.parentElement.querySelector(".answer")));
    form.addEventListener("reset", () => { form.parentElement.querySelector(".answer").hidden = true; });
    form.querySelector(".send").hidden = false;
    form.parentElement.querySelector(".answer details").open = wide.matches;
  }
  for (const code of main.querySelectorAll("pre code")) {
    if (code.textContent.includes(SAMPLE_ADDRESS)) code.textContent = code.textContent.replaceAll(SAMPLE_ADDRESS, location.origin);
  }
  for (const sample of main.querySelectorAll("details.sample")) {
    sample.open = sample.dataset.language === language;
    sample.addEventListener("toggle", () => { if (sample.open) language = sample.dataset.language; });
    copying(sample);
  }
}

function reveal() {
  const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  for (let around = target; around; around = around.parentElement) if (around.tagName === "DETAILS") around.open = true;
  if (target) target.scrollIntoView();
}

/* Pages are changed in place, so that a key and a language live on from one to the next. */
async function turnTo(address) {
  const response = await fetch(address, { headers: { Accept: "text/html" } });
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  const [main, nav] = [page.querySelector("main"), page.querySelector("nav")];
  if (!response.ok || !main || !nav) {
    location.assign(address);
    return;
  }
  document.title = page.title;
  document.querySelector("main").replaceWith(main);
  document.querySelector("nav ul").closest("details").replaceWith(nav.querySelector("details"));
  fold();
  prepare(main);
  main.focus();
  scrollTo(0, 0);
  reveal();
}

function turning(event) {
  const link = event.target.closest("a");
  if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  const to = new URL(link.href);
  const near = to.origin === location.origin && /^\/(docs|problems)(\/[\w-]+)?$/.test(to.pathname) && !/measuring-sheet/.test(to.pathname);
  if (!near || to.pathname === location.pathname) return;
  event.preventDefault();
  history.pushState(null, "", to.href);
  here = to.pathname;
  turnTo(to.href);
}

function fold() {
  const menu = document.querySelector("nav details");
  menu.open = wide.matches;
  const current = menu.querySelector("[aria-current]");
  if (wide.matches && current) menu.scrollTop = Math.max(0, current.offsetTop - menu.clientHeight / 2);
}

let here = location.pathname;
document.addEventListener("click", turning);
addEventListener("popstate", () => {
  if (location.pathname === here) return;
  here = location.pathname;
  turnTo(location.href);
});
addEventListener("hashchange", reveal);
wide.addEventListener("change", fold);
document.querySelector(".key").hidden = false;
fold();
prepare(document.querySelector("main"));
reveal();
