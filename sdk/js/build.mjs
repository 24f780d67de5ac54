// Writes document.d.ts from the checked-in OpenAPI document: npm install, then node build.mjs [FOLDER].
import { readFile, writeFile } from "node:fs/promises";
import openapiTypescript, { astToString } from "openapi-typescript";

const here = new URL(".", import.meta.url);
const into = process.argv[2] ? new URL(`file://${process.argv[2].replace(/\/*$/, "/")}`) : here;
const document = JSON.parse(await readFile(new URL("../../openapi/v1.json", here), "utf8"));
const banner = "// Made by build.mjs from openapi/v1.json; do not edit.\n";
await writeFile(new URL("document.d.ts", into), banner + astToString(await openapiTypescript(document)));
