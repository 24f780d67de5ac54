// The JavaScript module against a real service: node --test, with AIRBOUGH_URL, AIRBOUGH_KEYS (the service's JWKS).
import assert from "node:assert/strict";
import { test } from "node:test";
import * as airbough from "../../../sdk/js/airbough.js";

const url = process.env.AIRBOUGH_URL;
const keys = await (await fetch(new URL(process.env.AIRBOUGH_KEYS, url))).json();
const shop = {
  units: "us",
  dust: "shavings",
  runs: [{ id: "main", into: null, diameter: 6, length: "10 ft", duct: "spiral-galvanized", hood: { flow: 700, entry: { type: "plain-opening" } } }],
  collector: { fan: { curve: [{ flow: 0, pressure: 10 }, { flow: 1500, pressure: 2 }], rated_as: "fan-static" } },
};
const client = new airbough.Client({ url, keys });

test("a question is answered, signed, and the answer is the service's own", async () => {
  const told = await client.reply("operating-point", shop);
  assert.equal(told.answer.outcome, "operating-point");
  const plain = await (await fetch(`${url}/v1/trees/operating-point`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(shop) })).text();
  assert.equal(new TextDecoder().decode(told.body), plain);
});

test("a lookup takes its words as a query, and a word in its path", async () => {
  const loss = await client.ask("friction-loss", { units: "us", flow: 800, diameter: "6 in", length: 10, duct: "spiral-galvanized" });
  assert.ok(loss.friction_loss > 0);
  const elbow = await client.ask("fitting", { units: "us" }, { word: "elbow" });
  assert.equal(elbow.fitting.type, "elbow");
  await assert.rejects(client.ask("fitting", { units: "us" }), TypeError);
  await assert.rejects(client.ask("fitting", { units: "us" }, { word: ".." }), TypeError);
});

test("a refusal has every fault with its path", async () => {
  const wrong = { ...shop, colour: "red", runs: [{ ...shop.runs[0], diameter: -1 }] };
  await assert.rejects(client.ask("operating-point", wrong), (error) => {
    assert.ok(error instanceof airbough.Refused);
    assert.deepEqual(error.faults.map((one) => one.path).sort(), ["colour", "runs[0].diameter"]);
    assert.ok(error.requestId);
    return true;
  });
});

test("a number that JSON cannot carry is not sent", async () => {
  await assert.rejects(client.ask("operating-point", { ...shop, air: { temperature: NaN } }), /temperature/);
});

test("a signature holds for this question and answer alone", async () => {
  const { body, question, signature, path } = await client.reply("operating-point", shop);
  const told = { answer: body, question, signature, path, keys };
  await airbough.verify(told);
  const text = new TextDecoder().decode(body);
  const another = { kty: "OKP", crv: "Ed25519", kid: "another", x: keys.keys[0].x };
  for (const altered of [
    { answer: text.replace("operating-point", "operating-pOint") },
    { question: JSON.stringify({ ...shop, name: "another" }) },
    { path: "/v1/trees/balance" },
    { signature: signature.slice(0, -4) + "AAAA" },
    { signature: signature.replace("..", ".e30.") },
    { signature: undefined },
    { signature: "a..b" },
    { keys: another },
    { keys: { keys: [{ ...keys.keys[0], x: keys.keys[0].x.replace(/^./, (one) => (one === "A" ? "B" : "A")) }] } },
  ]) {
    await assert.rejects(airbough.verify({ ...told, ...altered }), airbough.SignatureRefused);
  }
  const stranger = new airbough.Client({ url, keys: another });
  await assert.rejects(stranger.ask("operating-point", shop), airbough.SignatureRefused);
});

test("a batch answers each line, refusals in their places", async () => {
  const lines = [
    { id: "a", question: "operating-point", request: shop },
    { id: "b", question: "operating-point", request: { ...shop, units: "cubits" } },
  ];
  const results = [];
  for await (const result of client.batch(lines)) results.push(result);
  assert.deepEqual(results.map(({ id, status }) => [id, status]).sort(), [["a", 200], ["b", 400]]);
});

/** A fetch that gives what the script says, and notes when it was asked. */
function scripted(...script) {
  const asked = [];
  const given = async (address, init) => {
    asked.push({ address, init });
    const next = script.shift();
    if (next instanceof Error) throw next;
    return new Response(next.body ?? "{}", { status: next.status ?? 200, headers: next.headers });
  };
  return { asked, fetch: given };
}

test("what may be answered a moment later is tried again, and no longer than asked for", async () => {
  const waits = [];
  const wait = async (milliseconds) => void waits.push(milliseconds);
  const busy = { status: 503, headers: { "retry-after": "2" } };
  const first = scripted(new TypeError("no connection"), busy, { body: '{"fine": true}' });
  const patient = new airbough.Client({ url, fetch: first.fetch, wait });
  assert.deepEqual(await patient.ask("balance", {}), { fine: true });
  assert.equal(first.asked.length, 3);
  assert.ok(waits[0] <= 500 && waits[1] >= 2000 && waits[1] <= 3000, String(waits));
  for (const answer of [{ status: 400 }, { status: 500 }, { status: 503, headers: { "retry-after": "100" } },
    { status: 503, body: '{"title": "Took too long", "type": "/problems/took-too-long"}' }]) {
    const once = scripted(answer, { body: "{}" });
    await assert.rejects(new airbough.Client({ url, fetch: once.fetch, wait }).ask("balance", {}), airbough.AirboughError);
    assert.equal(once.asked.length, 1, JSON.stringify(answer));
  }
});

test("the deadline and the caller's signal end a call", async () => {
  const never = (address, { signal }) => new Promise((_, left) => signal.addEventListener("abort", () => left(signal.reason)));
  const short = new airbough.Client({ url, fetch: never, deadline: 50, retries: 0 });
  await assert.rejects(short.ask("balance", {}), airbough.TimedOut);
  const stop = new AbortController();
  setTimeout(() => stop.abort(), 20);
  await assert.rejects(new airbough.Client({ url, fetch: never }).ask("balance", {}, { signal: stop.signal }), { name: "AbortError" });
});

test("a key is sent as a bearer token, and an address that is none is refused", async () => {
  const seen = scripted({ body: "{}" });
  await new airbough.Client({ url: `${url}/behind/`, key: "secret", fetch: seen.fetch }).ask("balance", {});
  assert.equal(seen.asked[0].init.headers.authorization, "Bearer secret");
  assert.equal(seen.asked[0].address, `${url}/behind/v1/trees/balance`);
  assert.throws(() => new airbough.Client({ url: "ftp://example.org" }), TypeError);
});
