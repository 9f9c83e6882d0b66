// Golden pictures of the page at one rehearsed moment (pictures/moment.toml), at the widths of a phone, a tablet and
// a desk, light and dark. The pages are those that tests/golden/pictures.rs holds; STANDPIPE_GOLDEN=write renews both.
//
// Letters are drawn by the machine's own fonts and its Chromium. Where those are not the ones that the pictures were
// taken with, a difference says nothing about the page: then they are skipped, and it is said which differ.
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "@playwright/test";

const folder = join(import.meta.dirname, "pictures");
const writes = process.env.STANDPIPE_GOLDEN === "write";
const said = (program, ...words) => {
  try { return execFileSync(program, words, { stdio: ["ignore", "pipe", "ignore"] }).toString().trim(); } catch { return "unknown"; }
};
const here = {
  chromium: said(process.env.CHROMIUM || "/usr/bin/chromium", "--version"),
  fonts: ["system-ui", "system-ui:bold", "monospace"].map((name) => said("fc-match", "-f", "%{family} %{style} %{fontversion}", name)),
};
const known = join(folder, "taken-with.json");
if (writes) writeFileSync(known, JSON.stringify(here, null, 2) + "\n");
const then = JSON.parse(readFileSync(known, "utf8"));
const differs = Object.keys(here).filter((key) => JSON.stringify(here[key]) !== JSON.stringify(then[key]));
const why = differs.map((key) => `${key}: ${JSON.stringify(here[key])} instead of ${JSON.stringify(then[key])}`).join("; ");
if (!process.env.TEST_WORKER_INDEX) {
  const told = differs.length ? `The pictures of the page were skipped: ${why}\n` : "";
  process.stdout.write(told);
  // `tests/run` tells it again at its end.
  mkdirSync(join(import.meta.dirname, "../.cache"), { recursive: true });
  writeFileSync(join(import.meta.dirname, "../.cache/pictures-skipped"), told);
}

const HIGH = { 360: 900, 800: 800, 1440: 720 };
for (const colorScheme of ["light", "dark"]) {
  for (const [width, height] of Object.entries(HIGH)) {
    test(`${width} px, ${colorScheme}`, async ({ browser }) => {
      test.skip(differs.length > 0, why);
      const page = await browser.newPage({ colorScheme, viewport: { width: Number(width), height }, javaScriptEnabled: false });
      await page.route("**/*", (route) => {
        const path = new URL(route.request().url()).pathname;
        return route.fulfill({ path: join(import.meta.dirname, path === "/style.css" ? "../../src/page/style.css" : `pictures${path}`) });
      });
      for (const name of ["overview", "alarms", "tank"]) {
        await page.goto(`http://page.test/${name}.html`);
        await expect(page).toHaveScreenshot(`${name}-${width}-${colorScheme}.png`);
      }
      await page.close();
    });
  }
}
