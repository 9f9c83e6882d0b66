// A site that only shows itself to who has signed in.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, signIn, startWorks } from "./works.mjs";

let works, browser;
before(async () => { [works, browser] = [await startWorks({ http: 'reading = "signed-in"' }), await openBrowser()]; });
after(async () => { await browser?.close(); await works?.stop(); });

test("only health is open; whoever signs in reads on where he wanted to", async () => {
  for (const [path, status] of [["/api/v1/tanks", 401], ["/metrics", 401], ["/live/overview", 303], ["/", 303], ["/health/live", 200]]) {
    const answer = await fetch(works.url + path, { redirect: "manual" });
    assert.equal(answer.status, status, path);
    assert.doesNotMatch(await answer.text(), /clearwell/, path);
  }
  const page = await (await browser.newContext()).newPage();
  await page.goto(`${works.url}/alarms`);
  assert.match(page.url(), /sign-in\?next=\/alarms/);
  assert.doesNotMatch(await page.content(), /clearwell/);
  await signIn(page, works.url, "Ben", "/alarms");
  assert.equal(page.url(), `${works.url}/alarms`);
  assert.equal((await page.request.get(`${works.url}/api/v1/tanks`)).status(), 200);
});
