// The description of the interface holds against what the daemon really answers: each path, each form, key by key.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import Ajv2020 from "ajv/dist/2020.js";
import addFormats from "ajv-formats";
import { startWorks, until } from "./works.mjs";

const NAMES = { "/api/v1/schema/{form}": ["tank", "reading"] };
let works;
before(async () => {
  works = await startWorks();
  Object.assign(works.plant.values, [48.6, -6, 17.5, NaN]);
  await until("alarms and a bad reading", async () => {
    const { alarms } = await (await fetch(`${works.url}/api/v1/alarms`)).json();
    return alarms.filter((alarm) => alarm.state === "UNACK").length >= 3;
  });
  works.command("sight", works.file, "surge", "2.1 m", "--by", "Ada");
  works.command("transfer", works.file, "hypochlorite", "--to", "0.5 m", "--by", "Ada");
  works.command("work", works.file, "LT-102", "--permit", "P-17", "--for", "1 h", "--by", "Dan");
});
after(async () => { await works?.stop(); });

/** Keys that the description does not have are found too. */
const closed = (schema) => {
  if (Array.isArray(schema)) return schema.map(closed);
  if (!schema || typeof schema !== "object") return schema;
  const inner = Object.fromEntries(Object.entries(schema).map(([key, value]) => [key, closed(value)]));
  return schema.type === "object" && schema.properties && !schema.additionalProperties ? { ...inner, additionalProperties: false } : inner;
};

test("what is answered is what is described", async () => {
  const described = await (await fetch(`${works.url}/api/v1/openapi.json`)).json();
  assert.deepEqual(described, JSON.parse(readFileSync(join(import.meta.dirname, "../../deploy/openapi.json"), "utf8")));
  assert.match(described.openapi, /^3\.1\./);
  const ajv = new Ajv2020({ strict: false, allErrors: true });
  addFormats(ajv);
  for (const format of ["uint", "uint8", "uint16", "uint32", "uint64", "int64"]) ajv.addFormat(format, { type: "number", validate: (value) => Number.isInteger(value) });
  ajv.addSchema({ $id: "described", ...closed(described) });
  let held = 0;
  for (const [path, { get }] of Object.entries(described.paths)) {
    const names = path.includes("{") ? NAMES[path] || ["surge", "backwash", "hypochlorite"] : [""];
    for (const name of names) {
      const answer = await fetch(works.url + path.replace(/\{\w+\}/, name));
      const [kind, content] = Object.entries(get.responses["200"].content)[0];
      assert.equal(answer.status, 200, path);
      assert.equal(answer.headers.get("content-type").split(";")[0], kind.split(";")[0], path);
      if (kind !== "application/json") continue;
      const steps = ["paths", path, "get", "responses", "200", "content", kind, "schema"];
      const pointer = steps.map((step) => encodeURIComponent(step.replaceAll("~", "~0").replaceAll("/", "~1"))).join("/");
      assert.ok(content.schema);
      const validate = ajv.getSchema(`described#/${pointer}`);
      assert.ok(validate(await answer.json()), `${path} ${name}: ${JSON.stringify(validate.errors?.slice(0, 5))}`);
      held += 1;
      if (names[0]) {
        const missing = await fetch(works.url + path.replace(/\{\w+\}/, "nothing"));
        assert.equal(missing.status, 404, path);
        assert.deepEqual(Object.keys(await missing.json()), ["error"]);
      }
    }
  }
  assert.ok(held >= 12, String(held));
});

test("a page of elsewhere can't ask by a name of its own", async () => {
  const { request } = await import("node:http");
  const asked = (host) => new Promise((done, failed) => {
    const { hostname, port } = new URL(works.url);
    request({ hostname, port, path: "/api/v1/tanks", headers: { Host: host } }, (answer) => {
      let text = "";
      answer.on("data", (data) => { text += data; });
      answer.on("end", () => done([answer.statusCode, text]));
    }).on("error", failed).end();
  });
  const [status, text] = await asked("evil.example");
  assert.equal(status, 421);
  assert.match(text, /not served under the name "evil\.example".*names = \["evil\.example"\]/s);
  assert.equal((await asked("localhost:1"))[0], 200);
});
