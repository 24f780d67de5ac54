import { Client, Refused, type AnswerOf, type RequestOf } from "airbough";
const client = new Client({ url: "http://127.0.0.1:8000" });
const request: RequestOf<"operating-point"> = {
  units: "us", dust: "shavings",
  runs: [{ id: "main", into: null, diameter: 6, length: "10 ft", duct: "spiral-galvanized", hood: { flow: 700, entry: { type: "plain-opening" } } }],
  collector: { fan: { curve: [{ flow: 0, pressure: 10 }, { flow: 1500, pressure: 2 }], rated_as: "fan-static" } },
};
const answer: AnswerOf<"operating-point"> = await client.ask("operating-point", request);
const codes: string[] = answer.findings.map((one) => one.code);
const loss = await client.ask("friction-loss", { units: "us", flow: 800, diameter: 6, length: 10, duct: "spiral-galvanized" });
console.log(codes, loss.friction_loss);
try { await client.ask("balance", request); } catch (error) { if (error instanceof Refused) console.log(error.kind, error.faults.map((one) => one.path)); }
// @ts-expect-error a misspelt field is refused
await client.ask("operating-point", { units: "us", runz: [] });
// @ts-expect-error a question that is none
await client.ask("operating-pt", request);
