// The Airbough service from a page or node: ask, batch, check signed answers. It needs fetch and WebCrypto and
// nothing else. Every question is a pure computation, so a POST is tried again as safely as a GET.

import { CALLS } from "./calls.js";

const STATUSES_WORTH_REPEATING = new Set([408, 429, 502, 503, 504]);
const encoder = new TextEncoder();

/** Whatever goes wrong; `problem` is the service's own (RFC 9457), where it answered with one. */
export class AirboughError extends Error {
  constructor(message, { status, problem, headers, cause } = {}) {
    super(message, { cause });
    this.name = new.target.name;
    this.status = status;
    this.problem = problem;
    this.requestId = headers?.get("x-request-id") ?? undefined;
    this.retryAfter = headers ? secondsToWait(headers) : undefined;
  }

  /** The last word of the problem's type, such as `out-of-range`. */
  get kind() {
    return this.problem?.type?.replace(/\/+$/, "").split("/").pop();
  }

  /** Every fault, each with the path of its field. */
  get faults() {
    return this.problem?.errors ?? [];
  }
}
export class Unreachable extends AirboughError {}
export class TimedOut extends AirboughError {}
export class Refused extends AirboughError {}
export class ServerFailed extends AirboughError {}
export class NotUnderstood extends AirboughError {}
export class SignatureRefused extends AirboughError {}

/** A client of the service at `url`; with `keys` (JWKS) every answer must be signed, `deadline` is in milliseconds. */
export class Client {
  #url; #headers; #keys; #retries; #deadline; #fetch; #wait;

  constructor({ url, key, keys, retries = 2, deadline = 120_000, fetch: given, wait = pause } = {}) {
    const base = new URL(url);
    if (!/^https?:$/.test(base.protocol) || base.search || base.hash) throw new TypeError(`${url} is no address of a service`);
    this.#url = base.href.replace(/\/+$/, "");
    this.#headers = key ? { authorization: `Bearer ${key}` } : {};
    this.#keys = keys;
    this.#retries = retries;
    this.#deadline = deadline;
    this.#fetch = given ?? ((...told) => globalThis.fetch(...told));
    this.#wait = wait;
  }

  /** The answer to a question; `request` is the body of a POST or the query of a GET, `word` what its path asks for. */
  async ask(question, request = {}, options = {}) {
    return (await this.reply(question, request, options)).answer;
  }

  /** The answer with its bytes, status, headers and signature. */
  async reply(question, request = {}, { word, signal } = {}) {
    const [method, template] = callOf(question);
    if (/\{/.test(template) !== (word !== undefined)) throw new TypeError(`${question}: ${template} ${word === undefined ? "needs a word" : "takes no word"}`);
    const path = template.replace(/\{\w+\}/, () => wordInPath(word));
    const sent = method === "GET" ? queryOf(request) : bodyOf(request);
    const address = this.#url + path + (method === "GET" && sent ? `?${sent}` : "");
    const init = method === "GET" ? { method } : { method, body: sent, headers: { "content-type": "application/json" } };
    const response = await this.#tried(address, { ...init, headers: { accept: "application/json", ...init.headers } }, signal);
    const body = new Uint8Array(response.content);
    const signature = response.headers.get("airbough-signature") ?? undefined;
    const told = { answer: parsed(body, response), body, status: response.status, headers: response.headers, signature, path, question: encoder.encode(sent) };
    if (this.#keys) await verify({ ...told, answer: body, keys: this.#keys });
    return told;
  }

  /** The results of many questions, one by one: `{id, status, answer}` or `{id, status, problem}`. */
  async *batch(lines, { signal } = {}) {
    const waiting = new Map();
    let text = "";
    for (const { id, question, request } of lines) {
      if (waiting.has(id)) throw new TypeError(`the id ${id} comes twice`);
      waiting.set(id, question);
      text += `${JSON.stringify({ id, question, request })}\n`;
    }
    const init = { method: "POST", body: text, headers: { "content-type": "application/x-ndjson", accept: "application/x-ndjson" } };
    const response = await this.#tried(`${this.#url}/v1/batches`, init, signal);
    let counts;
    for (const line of new TextDecoder().decode(response.content).split("\n")) {
      if (!line.trim()) continue;
      const told = parsed(line, response);
      if (told.id === undefined && "lines" in told) counts = told;
      else {
        waiting.delete(told.id);
        yield told;
      }
    }
    if (!counts || waiting.size) throw new NotUnderstood(`the batch left out ${waiting.size} lines`, response);
  }

  async #tried(address, init, signal) {
    const end = Date.now() + this.#deadline;
    for (let retry = 0; ; retry++) {
      try {
        return await this.#once(address, init, end, signal);
      } catch (error) {
        if (!(error instanceof AirboughError)) throw error;
        const worth = (error instanceof Unreachable || STATUSES_WORTH_REPEATING.has(error.status)) && error.kind !== "took-too-long";
        const wait = Math.random() * Math.min(8000, 500 * 2 ** retry) + 1000 * (error.retryAfter ?? 0);
        if (!worth || retry >= this.#retries || error.retryAfter > 60 || Date.now() + wait >= end) throw error;
        await this.#wait(wait, signal);
      }
    }
  }

  async #once(address, init, end, signal) {
    const stop = new AbortController();
    const clock = setTimeout(() => stop.abort(), Math.max(0, end - Date.now()));
    const left = () => stop.abort();
    signal?.addEventListener("abort", left);
    let response, content;
    try {
      signal?.throwIfAborted();
      response = await this.#fetch(address, { ...init, headers: { ...init.headers, ...this.#headers }, signal: stop.signal });
      content = await response.arrayBuffer();
    } catch (cause) {
      signal?.throwIfAborted();
      if (stop.signal.aborted) throw new TimedOut("the answer took longer than the deadline", { cause });
      throw new Unreachable(`nobody answered at ${new URL(address).origin}`, { cause });
    } finally {
      clearTimeout(clock);
      signal?.removeEventListener("abort", left);
    }
    const { status, headers } = response;
    if (response.ok) return { status, headers, content };
    throw failed(status, headers, content);
  }
}

/**
 * Do nothing where a signature holds for this answer to this question; else throw `SignatureRefused`.
 * Answer and question are bytes or text, byte for byte: the body of a POST, the query of a GET.
 */
export async function verify({ answer, question, signature, path, keys }) {
  const refuse = (why, cause) => new SignatureRefused(why, { cause });
  if (!signature) throw refuse("the answer is not signed");
  const [head, middle, tail, ...more] = signature.split(".");
  if (middle !== "" || !tail || more.length) throw refuse("the signature is no detached JWS");
  let holds;
  try {
    const { alg, kid, crit } = JSON.parse(new TextDecoder().decode(bytesOf(head)));
    const known = (keys.keys ?? [keys]).find((one) => one.kid === kid && one.kty === "OKP" && one.crv === "Ed25519");
    if (alg !== "Ed25519" || crit !== undefined || !known) throw refuse("the answer is signed with a key that is not among the given ones");
    const key = await crypto.subtle.importKey("jwk", { kty: "OKP", crv: "Ed25519", x: known.x }, "Ed25519", false, ["verify"]);
    const said = JSON.stringify({ answer: await digest(answer), path, request: await digest(question) });
    holds = await crypto.subtle.verify("Ed25519", key, bytesOf(tail), encoder.encode(`${head}.${textOf(encoder.encode(said))}`));
  } catch (error) {
    throw error instanceof SignatureRefused ? error : refuse("the signature cannot be read", error);
  }
  if (!holds) throw refuse("the signature does not hold: answer, request, path or signature were altered");
}

function callOf(question) {
  if (Object.hasOwn(CALLS, question)) return CALLS[question].split(" ");
  throw new TypeError(`${question} is none of ${Object.keys(CALLS).join(", ")}`);
}

function wordInPath(word) {
  if (!String(word).replaceAll(".", "")) throw new TypeError(`the path cannot end in ${JSON.stringify(word)}`);
  return encodeURIComponent(word);
}

function queryOf(request) {
  const pairs = Object.entries(request).filter(([, value]) => value !== undefined && value !== null);
  return new URLSearchParams(pairs.map(([name, value]) => [name, String(value)])).toString();
}

function bodyOf(request) {
  return JSON.stringify(request, (name, value) => {
    if (typeof value === "number" && !Number.isFinite(value)) throw new TypeError(`${name} is ${value}, which JSON cannot carry`);
    return value;
  });
}

function parsed(body, response) {
  try {
    return JSON.parse(typeof body === "string" ? body : new TextDecoder().decode(body));
  } catch (cause) {
    throw new NotUnderstood("what came back is no JSON", { ...response, cause });
  }
}

function failed(status, headers, content) {
  let problem;
  try {
    problem = JSON.parse(new TextDecoder().decode(content));
  } catch { /* a proxy's page, most likely */ }
  if (typeof problem?.title !== "string") problem = undefined;
  const words = problem ? [`${status} ${problem.title}`, ...(problem.errors ?? []).map(({ path, detail }) => `${path}: ${detail}`)].join("\n") : `status ${status} without a problem document`;
  const kind = status >= 500 ? ServerFailed : status >= 400 ? Refused : NotUnderstood;
  return new kind(words, { status, problem, headers });
}

function secondsToWait(headers) {
  const asked = headers.get("retry-after");
  if (!asked) return undefined;
  const seconds = /^\d{1,9}$/.test(asked) ? Number(asked) : (Date.parse(asked) - Date.now()) / 1000;
  return Number.isFinite(seconds) ? Math.max(0, seconds) : undefined;
}

function pause(milliseconds, signal) {
  return new Promise((done, left) => {
    const clock = setTimeout(done, milliseconds);
    signal?.addEventListener("abort", () => (clearTimeout(clock), left(signal.reason)), { once: true });
  });
}

async function digest(told) {
  const bytes = typeof told === "string" ? encoder.encode(told) : told;
  return textOf(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
}

function textOf(bytes) {
  return btoa(String.fromCharCode(...bytes)).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
}

function bytesOf(text) {
  return Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (letter) => letter.charCodeAt(0));
}

export async function stockDigest(stock) {
  const keys = new Set();
  JSON.stringify(stock, (key, value) => keys.add(key) && value);
  return digest(JSON.stringify(stock, [...keys].sort()));
}
