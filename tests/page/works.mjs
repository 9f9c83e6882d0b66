// The works that the tests of the page run against: a plant, the real program, a headless browser. Everything
// listens on loopback; only what was started here is stopped.
import { execFileSync, spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { servePlant } from "./plant.mjs";

const here = import.meta.dirname;
const program = process.env.STANDPIPE_PROGRAM || join(here, "../../target/debug/standpipe");
export const PASSWORD = "seven mild rivers";
let hash;

/** kPa on LT-101, PDT-202, LT-104, LT-102: levels of about 3.2, 1.5, 0.9 and 1.7 m. */
export const CALM = [33.4, -15.6, 10.1, 15.2];

export async function startWorks({ session = "12 h", http = "" } = {}) {
  const plant = await servePlant([...CALM], [false]);
  hash ??= /"(.*)"/.exec(execFileSync(program, ["password"], { input: PASSWORD + "\n" }).toString())[1];
  const folder = mkdtempSync(join(tmpdir(), "standpipe-page-"));
  const file = join(folder, "site.toml");
  const text = readFileSync(join(here, "site.toml"), "utf8")
    .replaceAll("@HASH@", hash).replaceAll("@USER@", String(process.getuid())).replace("@PLANT@", plant.address).replace("@SESSION@", session).replace("@PAGE@", `127.0.0.1:${await freePort()}`)
    .replace("[http]", "[http]\n" + http);
  writeFileSync(file, text);
  const daemon = await startDaemon(file);
  return {
    ...daemon, plant, folder, file,
    command: (...words) => execFileSync(program, words).toString(),
    stop: async () => {
      await daemon.stop();
      await plant.stop();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function freePort() {
  const server = createServer();
  await new Promise((listens) => server.listen(0, "127.0.0.1", listens));
  const { port } = server.address();
  await new Promise((closed) => server.close(closed));
  return port;
}

export async function startDaemon(file) {
  const child = spawn(program, ["run", file], { stdio: ["ignore", "pipe", "pipe"] });
  let [said, log] = ["", ""];
  child.stderr.on("data", (data) => { log += data; });
  const ended = new Promise((done) => child.on("exit", done));
  const url = await new Promise((found, failed) => {
    child.stdout.on("data", (data) => {
      said += data;
      const address = /http:\/\/[0-9.:]+/.exec(said);
      if (address) found(address[0]);
    });
    child.on("exit", () => failed(new Error(`the program ended: ${log}`)));
  });
  return {
    url, log: () => log, process: child,
    stop: async () => { child.kill("SIGTERM"); await ended; },
  };
}

export const openBrowser = () =>
  chromium.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox"] });

export async function signIn(page, url, name, next = "/") {
  await page.goto(`${url}/sign-in?next=${next}`);
  await page.getByLabel("Name").fill(name);
  await page.getByLabel("Password").fill(PASSWORD);
  await page.getByRole("button", { name: "Sign in" }).click();
  await page.waitForURL(url + next);
}

/** Waits until it is so, at most so long; the answer is how long it took. */
export async function until(what, is, limit = 5000) {
  const began = Date.now();
  while (Date.now() - began < limit) {
    if (await is()) return Date.now() - began;
    await new Promise((later) => setTimeout(later, 20));
  }
  throw new Error(`not within ${limit} ms: ${what}`);
}
