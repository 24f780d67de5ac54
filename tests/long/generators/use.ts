import type { components } from "./types";
type S = components["schemas"];
const asked: S["OperatingPointRequest"] = {
  units: "us",
  runs: [
    { id: "main", into: null, diameter: 6, length: 10, duct: "spiral-galvanized", fittings: [{ type: "elbow", angle: 90, radius_ratio: 1.5 }] },
    { id: "saw", into: "main", join: { type: "straight" }, diameter: "4 in", length: 6, duct: "flexible-hose-ribbed", hood: { flow: 400, entry: { type: "plain-opening" } }, gate: { opening: 1 } },
  ],
  collector: { fan: { curve: [{ flow: 0, pressure: 11 }, { flow: 1000, pressure: 5 }], rated_as: "fan-static", includes: [] } },
};
const told = {} as S["OperatingPointAnswer"];
const lost: number = told.findings.length + told.fans.length;
const line: S["BatchLine"] = { id: "a", question: "operating-point", request: asked };
const parts = {} as S["PartsListAnswer"];
const open: string[] = parts.not_stocked.map((need) => need.runs.join());
console.log(asked, lost, line, open);
