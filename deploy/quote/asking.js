// Questions to the seller's server, and what to say where one has no answer.
import { outline, states } from "./state.js";

export async function ask(path, body, signal) {
  try {
    const reply = await fetch(path, { method: "POST", body: JSON.stringify(body), headers: { "content-type": "application/json" }, signal });
    return { status: reply.status, text: await reply.text(), signature: reply.headers.get("airbough-signature"), wait: reply.headers.get("retry-after") };
  } catch (error) {
    if (error.name === "AbortError") throw error;
    return { status: 502, text: "{}" };
  }
}
export const quote = (shop, signal) => ask("/quote", { outline: outline(shop), ...states(shop) }, signal);

/** Which text says why there is no answer: `refused`, `busy`, `too_long` or `away`; and the faults. */
export function why({ status, text, wait }) {
  let problem = {};
  try { problem = JSON.parse(text); } catch { /* a proxy's page */ }
  const values = { seconds: Number(wait) || 5 };
  if (status === 400 || status === 422) return { word: "refused", faults: problem.errors ?? [], values };
  if (problem.type?.endsWith("took-too-long")) return { word: "too_long", faults: [], values };
  if (status === 429 || status === 503) return { word: "busy", faults: [], values };
  return { word: "away", faults: [], values };
}
