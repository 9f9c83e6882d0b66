// The page changes by itself; and it says so when it can't any more.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { CALM, openBrowser, startWorks, until } from "./works.mjs";

let works, browser;
before(async () => { [works, browser] = [await startWorks(), await openBrowser()]; });
after(async () => { await browser?.close(); await works?.stop(); });

const opened = async (path, options = {}) => {
  const page = await (await browser.newContext(options)).newPage();
  await page.goto(works.url + path);
  return page;
};
const level = (page) => page.locator("#n-clearwell .val b").innerText();

test("an alarm that comes shows within a second, and its tank goes to the front", async () => {
  const page = await opened("/");
  const alarms = await opened("/alarms");
  await until("a level", async () => (await level(page)).startsWith("3.2"));
  await page.waitForTimeout(500);
  works.plant.values[2] = 17.5; // hypochlorite to about 1.5 m
  const came = await until("the alarm on the overview", () => page.locator(".now").isVisible());
  // Polled every 200 ms, judged at once, sent within 250 ms.
  assert.ok(came < 1000, `${came} ms`);
  await until("the alarm among the alarms", () => alarms.locator("#a-hypochlorite-lah").isVisible(), 1000);
  assert.match(await page.locator(".now").innerText(), /hypochlorite LAH, high.*Tell the driver to stop/s);
  assert.match(await page.locator("#summary").innerText(), /1 not answered/);
  const first = page.locator("#order > li").first();
  await until("the tank at the front", async () => (await first.getAttribute("id")) === "t-hypochlorite", 1000);
  assert.match(await alarms.locator("#a-hypochlorite-lah").innerText(), /Respond within 2 min.*left/s);
  works.plant.values[2] = CALM[2];
  await until("back to normal", () => alarms.locator("#s-settle .alarm").isVisible());
});

test("a wire that is pulled shows as bad, with the reason", async () => {
  const page = await opened("/");
  works.plant.values[3] = NaN;
  await until("bad", () => page.locator("#n-backwash .q.bad").isVisible());
  assert.match(await page.locator("#n-backwash").innerText(), /not known.*not a finite number/s);
  works.plant.values[3] = CALM[3];
  await until("good again", async () => (await page.locator("#n-backwash .q").innerText()) === "good");
});

test("what somebody writes is not taken away, and the focus stays", async () => {
  const page = await opened("/");
  await page.locator("#n-clearwell h2 a").focus();
  works.plant.values[0] = 30;
  await until("another level", async () => (await level(page)).startsWith("2.8"));
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "Clear water tank");
  works.plant.values[0] = CALM[0];
});

test("without a script the page has it all and loads itself again", async () => {
  const page = await opened("/", { javaScriptEnabled: false });
  assert.match(await page.locator("#n-clearwell").innerText(), /3\.2\d\d m.*good.*old/s);
  assert.equal(await page.locator("#t-surge svg").count(), 1);
  assert.match(await page.content(), /<meta http-equiv="refresh" content="10">/);
});

test("a lost connection shows at once as old numbers", async () => {
  const page = await opened("/");
  await until("live", async () => (await page.locator("#n-clearwell .age").innerText()).includes("old"));
  assert.equal(await page.locator("#lost").isVisible(), false);
  await page.route("**/live/**", (route) => route.abort());
  await works.process.kill("SIGTERM");
  const told = await until("told", () => page.locator("#lost").isVisible());
  assert.ok(told < 5000, `${told} ms`);
  assert.match(await page.locator("#lost").innerText(), /No connection since .*OLD/);
  const mark = await page.locator("#n-clearwell .val").evaluate((value) => getComputedStyle(value, "::before").content);
  assert.equal(mark, '"OLD"');
  const seconds = async () => Number.parseInt(await page.locator("#n-clearwell .age").innerText(), 10);
  const before = await seconds();
  await page.waitForTimeout(2100);
  assert.ok((await seconds()) >= before + 2, "the age counts up");
});
