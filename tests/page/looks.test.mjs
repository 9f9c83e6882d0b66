// What every page owes to everybody: nothing that axe-core finds fault with, and nothing wider than the screen.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { openBrowser, signIn, startWorks, until } from "./works.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const PATHS = ["/", "/tank/hypochlorite", "/alarms", "/sign-in", "/tank/surge", "/tank/backwash", "/journal", "/signals", "/inventory", "/handover", "/tank/none"];
let works, browser;
before(async () => {
  [works, browser] = [await startWorks(), await openBrowser()];
  Object.assign(works.plant.values, [48.6, -6, 17.5, NaN]);
  works.plant.bits[0] = true;
  await until("alarms", async () => {
    const { alarms } = await (await fetch(`${works.url}/api/v1/alarms`)).json();
    return alarms.filter((alarm) => alarm.state === "UNACK").length >= 3;
  });
});
after(async () => { await browser?.close(); await works?.stop(); });
/** What is folded away is looked at as well. */
const unfold = (page) => page.evaluate(() => { for (const details of document.querySelectorAll("details")) details.open = true; });

for (const colorScheme of ["light", "dark"]) {
  test(`axe finds no violation, ${colorScheme}`, async () => {
    // The check itself is a script that the page's policy would forbid.
    const page = await (await browser.newContext({ colorScheme, bypassCSP: true })).newPage();
    for (const who of [null, "Dan"]) {
      if (who) await signIn(page, works.url, who);
      for (const path of PATHS) {
        await page.goto(works.url + path);
        await page.waitForTimeout(400);
        await unfold(page);
        await page.evaluate(axe);
        const found = await page.evaluate(() => axe.run(document, {
          runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
        }));
        const told = found.violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html, failureSummary }) => `${html} ${failureSummary}`).join("\n")}`);
        assert.deepEqual(told, [], `${path} ${who}`);
      }
    }
  });
}

test("nothing is wider than the screen, down to 320 px", async () => {
  for (const width of [320, 360, 800, 1440]) {
    const page = await (await browser.newContext({ viewport: { width, height: 700 } })).newPage();
    await signIn(page, works.url, "Dan");
    for (const path of PATHS) {
      await page.goto(works.url + path);
      await page.waitForTimeout(300);
      await unfold(page);
      const [wide, screen, who] = await page.evaluate(() => {
        const edge = document.documentElement.clientWidth;
        const over = [...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > edge + 1);
        return [document.documentElement.scrollWidth, edge, over.slice(0, 3).map((e) => e.outerHTML.slice(0, 120))];
      });
      assert.ok(wide <= screen, `${path} at ${width} px is ${wide} px wide: ${who}`);
    }
  }
});

test("every page can be used by keyboard alone, and the focus is seen", async () => {
  const page = await (await browser.newContext()).newPage();
  await signIn(page, works.url, "Ada", "/alarms");
  await page.bringToFront();
  await page.waitForFunction(() => document.hasFocus() && document.readyState === "complete");
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "To the content");
  const seen = new Set();
  for (let step = 0; step < 60; step++) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const { outlineStyle, outlineWidth } = getComputedStyle(document.activeElement);
      return [document.activeElement.textContent.trim(), outlineStyle, outlineWidth];
    });
    seen.add(at[0]);
    if (at[0]) assert.deepEqual(at.slice(1), ["solid", "3px"], at[0]);
    if (seen.has("Acknowledge")) break;
  }
  assert.ok(seen.has("Acknowledge"), [...seen].join(" | "));
  await page.keyboard.press("Enter");
  await page.waitForURL(/alarms/);
  await until("answered", () => page.locator(".said.done").isVisible());
});

test("a form that comes back is without fault as well, and what is wrong has the focus", async () => {
  const page = await (await browser.newContext({ bypassCSP: true, viewport: { width: 320, height: 700 } })).newPage();
  await signIn(page, works.url, "Dan", "/tank/surge");
  await page.bringToFront();
  // By keyboard alone.
  await page.locator("#sight summary").focus();
  await page.keyboard.press("Enter");
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.id), "sight-level");
  await page.keyboard.type("2,1");
  await page.keyboard.press("Enter");
  await page.locator("#sight-level-wrong").waitFor();
  assert.equal(await page.evaluate(() => document.activeElement.id), "sight-level");
  assert.equal(await page.locator("#sight-level").inputValue(), "2,1");
  await page.evaluate(axe);
  const found = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  assert.deepEqual(found.violations.map(({ id, nodes }) => `${id} ${nodes.map(({ html }) => html)}`), []);
  const [wide, screen] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
  assert.ok(wide <= screen, `${wide} px`);
});
