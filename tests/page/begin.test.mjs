// What people begin at the page: transfers, another product, work on a transmitter, the live test of an alarm.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { openBrowser, signIn, startWorks, until } from "./works.mjs";

let works, browser;
before(async () => {
  [works, browser] = [await startWorks(), await openBrowser()];
  await until("readings", async () => {
    const { tanks } = await (await fetch(`${works.url}/api/v1/tanks`)).json();
    return tanks.every(({ reading }) => reading.quality === "good");
  });
});
after(async () => { await browser?.close(); await works?.stop(); });

const journal = () => works.command("journal", "list", works.file);
const signedIn = async (name, path) => {
  const page = await (await browser.newContext()).newPage();
  await signIn(page, works.url, name, path);
  return page;
};
/** Sends a form as it stands, past what the browser itself would check. */
const send = async (page, deed, fields, token) => {
  token ??= await page.locator(".who input[name=token]").inputValue();
  const answer = await page.request.post(`${works.url}/do/${deed}`, { form: { token, back: "/", ...fields }, maxRedirects: 0 });
  return [answer.status(), await answer.text()];
};
const said = (page) => page.locator(".said").innerText();

test("a transfer is followed after a caution that it stops nothing, and ended", async () => {
  const page = await signedIn("Ada", "/tank/clearwell");
  await page.getByText("Transfer…").click();
  const form = page.locator("#transfer");
  assert.match(await form.innerText(), /Nothing is opened, stopped or closed by this/);
  await form.getByLabel("To this level", { exact: true }).fill("4.2");
  await form.getByLabel("Tell before the expected end", { exact: true }).fill("10");
  await form.getByLabel("Somebody stands by to stop it").check();
  await form.getByRole("button", { name: "Follow it" }).click();
  assert.match(await said(page), /clearwell: transfer begun: .*4\.200 m.*told 10 min before, to be stopped within 3 min/);
  assert.match(await page.locator("#r-clearwell").innerText(), /Transfer to 4\.200 m by Ada/);
  assert.equal(await page.locator("#transfer").count(), 0);
  await page.getByRole("button", { name: "End following the transfer" }).click();
  assert.match(await said(page), /transfer ended by a person/);
  const [status, text] = await send(page, "transfer", { tank: "clearwell", to: "4 m", volume: "100 m3", tell: "5 min", stop_within: "3" });
  assert.equal(status, 422);
  assert.match(text, /say once where it ends/);
  assert.match(text, /has no unit/);
  assert.match(text, /tick it if it is so/);
});

test("another product is taken, and the level steps as it was said", async () => {
  const page = await signedIn("Ada", "/tank/hypochlorite");
  await page.getByText("Another product…").click();
  const form = page.locator("#product");
  await form.getByLabel("It holds").selectOption("diluted");
  assert.match(await form.innerText(), /a wrong product is a wrong level/);
  await form.getByLabel("I know that this is in the tank").check();
  await form.getByRole("button", { name: "Take it" }).click();
  assert.match(await said(page), /hypochlorite holds diluted, was as delivered; the level went from 0\.9\d\d m to 1\.0\d\d m|hypochlorite holds diluted, was as delivered/);
  await until("it is shown", async () => /Holds\s+diluted/.test(await page.locator("#r-hypochlorite").innerText()));
  const [status, text] = await send(page, "product", { tank: "hypochlorite", product: "as delivered" });
  assert.deepEqual([status, /tick it if it is so/.test(text)], [422, true]);
  assert.equal(await page.goto(`${works.url}/tank/clearwell`).then(() => page.getByText("Another product…").count()), 0);
});

test("an alarm is tried by who maintains, marked on every page, and ended", async () => {
  const page = await signedIn("Dan", "/tank/backwash");
  await page.getByText("Live test of an alarm…").click();
  const form = page.locator("#test");
  assert.match(await form.innerText(), /all of it marked TEST/);
  await form.getByLabel("Put in").fill("0.3 furlongs");
  await form.getByLabel("Those who will be told know of it").check();
  await form.getByRole("button", { name: "Begin the test" }).click();
  assert.match(await page.locator("#test-value-wrong").innerText(), /furlongs/);
  assert.equal(await form.getByLabel("Put in").inputValue(), "0.3 furlongs");
  await form.getByLabel("Put in").fill("0.3 m");
  await form.getByRole("button", { name: "Begin the test" }).click();
  assert.match(await said(page), /backwash LAL: live test begun: .*0\.300 m.* put in at LT-102 for 2 min/);
  await page.goto(works.url);
  await until("it is marked", async () => /LIVE TEST of LAL by Dan/.test(await page.locator("#n-backwash").innerText()));
  await page.goto(`${works.url}/tank/backwash`);
  await page.getByRole("button", { name: "End the live test" }).click();
  assert.match(await said(page), /the value is taken away/);
  const ada = await signedIn("Ada", "/tank/backwash");
  assert.equal(await ada.getByText("Live test of an alarm…").count(), 0);
  const fields = { tank: "backwash", code: "LAL", value: "0.3 m", time: "2 min", sure: "yes" };
  const [status, text] = await send(ada, "test", fields);
  assert.equal(status, 422);
  assert.match(text, /takes the role &quot;maintain&quot;; Ada has &quot;operate&quot;/);
  // A refusal is written down; its answer does not wait for that.
  await until("the refusal is in the journal", async () => /"test-alarm" by Ada at the page/.test(journal()));
});

test("work on a transmitter takes a permit, a time and a tick, and is ended by who looks at what it reads", async () => {
  const page = await signedIn("Dan", "/signals");
  const fields = { tag: "PDT-202", permit: "", time: "2", time_unit: "h" };
  const [status, text] = await send(page, "work", fields);
  assert.equal(status, 422);
  assert.match(text, /work needs the number of its permit/);
  assert.match(text, /tick it if it is so/);
  await page.getByText("Begin work…").click();
  const form = page.locator("#work");
  assert.match(await form.innerText(), /its own signal reaches no reading/);
  await form.getByLabel("Transmitter").selectOption("PDT-202");
  await form.getByLabel("Permit number").fill("P-17 <b>");
  await form.getByLabel("Hand value").fill("-15.6 kPa(g)");
  await form.getByLabel("The permit is given").check();
  await form.getByRole("button", { name: "Begin the work" }).click();
  assert.match(await page.locator("#work-hand-wrong").innerText(), /leave \(g\) and \(a\) out/);
  await form.getByLabel("Hand value").fill("-15.6 kPa");
  await form.getByRole("button", { name: "Begin the work" }).click();
  assert.match(await said(page), /PDT-202: function check begun, permit P-17 <b>, for 2 h; hand value -15\.6.* in its place/);
  const row = page.locator("tr", { hasText: "PDT-202" });
  assert.match(await row.innerText(), /Function check by Dan, permit P-17 <b>, until/);
  await row.getByText("Return to service…").click();
  await row.getByRole("button", { name: "It is back in service" }).click();
  assert.match(await said(page), /returned to service after .*agrees with the hand value/);
  const ada = await signedIn("Ada", "/signals");
  assert.equal(await ada.getByText("Begin work…").count(), 0);
  assert.match((await send(ada, "work", { ...fields, permit: "P-18", sure: "yes" }))[1], /takes the role/);
});

test("no form of these is taken with another's token", async () => {
  const page = await signedIn("Dan", "/signals");
  for (const deed of ["sight", "dip", "transfer", "product", "test", "work", "end-work", "end-transfer"]) {
    assert.equal((await send(page, deed, { tank: "clearwell", tag: "PDT-202" }, "00ff"))[0], 303, deed);
    await page.goto(`${works.url}/signals`);
    assert.match(await said(page), /not this page's/, deed);
  }
});
