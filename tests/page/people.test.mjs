// Who may do what, and what the journal says of it.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { CALM, PASSWORD, openBrowser, signIn, startWorks, until } from "./works.mjs";

let works, browser;
before(async () => { [works, browser] = [await startWorks({ session: "20 s" }), await openBrowser()]; });
after(async () => { await browser?.close(); await works?.stop(); });

const fresh = async (options = {}) => (await browser.newContext(options)).newPage();
const journal = () => works.command("journal", "list", works.file);

test("an operator signs in, acknowledges, and the journal has the name", async () => {
  const page = await fresh();
  works.plant.values[0] = 48.6;
  await signIn(page, works.url, "Ada", "/alarms");
  assert.match(await page.locator(".who").innerText(), /Ada \(operate\)/);
  const alarm = page.locator("#a-clearwell-lah");
  await alarm.getByRole("button", { name: "Acknowledge" }).click();
  assert.match(await page.locator(".said.done").innerText(), /clearwell LAH/);
  await until("answered", () => page.locator("#s-answered #a-clearwell-lah").isVisible());
  const lines = journal().split("\n");
  assert.ok(lines.some((line) => /UNACK -> ACKED|UNACK.*ACKED/.test(line) && /Ada/.test(line)), lines.join("\n"));
  assert.ok(lines.some((line) => /signed in at the page/.test(line) && /Ada/.test(line)));
});

test("an alarm is shelved with a reason, stays in sight, and is unshelved", async () => {
  const page = await fresh({ javaScriptEnabled: false });
  works.plant.values[0] = 48.6;
  await until("the alarm", async () => {
    const { alarms } = await (await fetch(`${works.url}/api/v1/alarms`)).json();
    return alarms.some(({ tank, code, active }) => tank === "clearwell" && code === "LAH" && active);
  });
  await signIn(page, works.url, "Ada", "/alarms");
  const alarm = page.locator("#a-clearwell-lah");
  await alarm.locator("summary", { hasText: "Shelve" }).click();
  await alarm.getByLabel("Reason").fill("float <b>sticks</b>");
  await alarm.getByLabel("For").selectOption({ label: "15 min" });
  await alarm.getByRole("button", { name: "Shelve it" }).click();
  const shelved = page.locator("#s-shelved #a-clearwell-lah");
  assert.match(await shelved.innerText(), /Shelved by Ada until .*: float <b>sticks<\/b>/);
  assert.match(await shelved.innerText(), /It is active underneath/);
  await shelved.getByRole("button", { name: "Unshelve" }).click();
  await until("unshelved", async () => /unshelved|shown/i.test(await page.locator(".said").innerText()));
  assert.equal(await page.locator("#s-shelved .alarm").count(), 0);
  works.plant.values[0] = CALM[0];
});

test("the horn is silenced at a place, and no alarm is answered by it", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ada", "/alarms");
  works.plant.values[1] = -6;
  await until("the horn", () => page.locator(".horn form").isVisible());
  await page.getByLabel("Place").fill("control room");
  await page.getByRole("button", { name: "Silence the horn" }).click();
  await page.locator(".said.done").waitFor();
  assert.match(await page.locator(".horn").innerText(), /silenced at control room by Ada/);
  assert.equal(await page.locator(".horn").getAttribute("data-sounds"), "false");
  assert.equal(await page.locator("#s-act #a-surge-la").count(), 1);
  assert.match(journal(), /horn silenced, control room/);
});

test("without a session, without the token, from elsewhere, without the role: refused", async () => {
  const page = await fresh();
  const send = (fields, headers = {}) => page.request.post(`${works.url}/do/silence`,
    { form: { back: "/alarms", place: "yard", ...fields }, headers, maxRedirects: 0 });
  const said = async () => { await page.goto(`${works.url}/alarms`); return page.locator(".said").innerText(); };
  assert.equal((await send({})).status(), 303);
  assert.match(await said(), /not signed in/);
  await signIn(page, works.url, "Ada", "/alarms");
  const token = await page.locator(".who input[name=token]").inputValue();
  for (const [fields, headers] of [[{}, {}], [{ token: "00ff" }, {}], [{ token }, { "Sec-Fetch-Site": "cross-site" }]]) {
    await send(fields, headers);
    assert.match(await said(), /not this page's/);
  }
  assert.doesNotMatch(journal(), /horn silenced, yard/);
  const looks = await fresh();
  await signIn(looks, works.url, "Ben", "/alarms");
  assert.equal(await looks.getByRole("button", { name: "Acknowledge" }).count(), 0);
  const his = await looks.locator(".who input[name=token]").inputValue();
  await looks.request.post(`${works.url}/do/silence`, { form: { token: his, back: "/alarms", place: "yard" }, maxRedirects: 0 });
  await looks.goto(`${works.url}/alarms`);
  assert.match(await looks.locator(".said").innerText(), /takes the role "operate"; Ben has "look"/);
  assert.match(journal(), /Ben at the page/);
});

test("a wrong password is refused in the same words as a wrong name, recorded, and slowed down", async () => {
  const page = await fresh();
  const attempt = async (name, password) => {
    await page.goto(`${works.url}/sign-in`);
    await page.getByLabel("Name").fill(name);
    await page.getByLabel("Password").fill(password);
    const answer = page.waitForResponse((response) => response.request().method() === "POST");
    await page.getByRole("button", { name: "Sign in" }).click();
    return [(await answer).status(), await page.locator(".said.refused").innerText()];
  };
  const wrong = await attempt("Dan", "guess");
  assert.deepEqual(wrong, await attempt("Nobody", "guess"));
  assert.equal(wrong[0], 403);
  assert.match(journal(), /sign-in as "Dan" from 127\.0\.0\.1: name and password do not fit/);
  for (let guess = 0; guess < 4; guess++) await attempt("Dan", "guess");
  const [status, text] = await attempt("Dan", PASSWORD);
  assert.equal(status, 429);
  assert.match(text, /wait \d+ s/);
});

test("a session ends by itself, and a form of it is refused", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ada", "/alarms");
  const token = await page.locator(".who input[name=token]").inputValue();
  const cookies = await page.context().cookies();
  const session = cookies.find((cookie) => cookie.name === "standpipe_session");
  assert.deepEqual([session.httpOnly, session.sameSite], [true, "Strict"]);
  await page.waitForTimeout(20_500);
  const headers = { Cookie: `standpipe_session=${session.value}` };
  const answer = await fetch(`${works.url}/do/silence`, { method: "POST", redirect: "manual", headers,
    body: new URLSearchParams({ token, back: "/alarms" }) });
  assert.equal(answer.status, 303);
  const text = Buffer.from(/standpipe_said=r([0-9a-f]+)/.exec(answer.headers.get("set-cookie"))[1], "hex").toString();
  assert.match(text, /not signed in, or no longer/);
});

test("who signs out is out", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ada");
  await page.getByRole("button", { name: "Sign out" }).click();
  assert.match(await page.locator(".who").innerText(), /Sign in/);
  assert.match(journal(), /signed out at the page/);
});
