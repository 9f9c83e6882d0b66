// What people saw is entered at the page, by the same rules as at the command line.
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

const fresh = async (options = {}) => (await browser.newContext(options)).newPage();
const journal = (...words) => works.command("journal", "list", works.file, ...words);
const rows = (page, tank) => page.locator(`#e-${tank} tbody tr`);

test("a sight glass is entered, and its residual stands on the page and in the journal, once", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ada", "/tank/clearwell");
  assert.match(await page.locator("#e-clearwell").innerText(), /due every 8 h, the next at .*There is none yet/);
  await page.getByText("Enter the sight glass…").click();
  // Its scale begins at 0.30 m; the reading is 3.21 m.
  await page.getByLabel("The glass shows", { exact: true }).fill("2.900");
  await page.getByLabel("It was blown down before").check();
  await page.getByLabel("Read by").first().fill("Ben");
  await page.getByRole("button", { name: "Enter it" }).first().click();
  await page.waitForURL(`${works.url}/tank/clearwell#rounds`);
  const said = await page.locator(".said.done").innerText();
  assert.match(said, /clearwell: sight glass 2\.900 m, blown down, read by Ben: level 3\.200 m ± 1\d mm; the reading was 3\.21\d m, 1\d mm above it/);
  assert.match(await rows(page, "clearwell").innerText(), /1\d mm above.*3\.200 m ± 1\d mm.*3\.21\d m.*Ben, entered by Ada.*sight glass, blown down/s);
  assert.match(await page.locator("#e-clearwell").innerText(), /One entry is compared/);
  assert.match(journal("--kind", "entry"), /clearwell.*sight.*Ada.*read by Ben.*1\d mm above it/);
  assert.match(works.command("rounds", works.file, "clearwell"), /Ada +sight +3\.200 +3\.21\d/);
  await page.reload();
  assert.equal(await rows(page, "clearwell").count(), 1);
  // The same form sent twice, as by an impatient thumb: it is entered once.
  const fields = Object.fromEntries(await page.locator("#sight form input[type=hidden]").evaluateAll((all) => all.map(({ name, value }) => [name, value])));
  const send = () => page.request.post(`${works.url}/do/sight`, { form: { ...fields, level: "2.91 m" }, maxRedirects: 0 });
  assert.deepEqual([(await send()).status(), (await send()).status()], [303, 303]);
  await page.reload();
  assert.match(await page.locator(".said.refused").innerText(), /done already with this form, and is not done twice/);
  assert.equal(await rows(page, "clearwell").count(), 2);
});

test("without a script a dip that is not understood comes back as it was typed, and says what to do", async () => {
  const page = await fresh({ javaScriptEnabled: false });
  await signIn(page, works.url, "Ada", "/tank/clearwell");
  const before = await rows(page, "clearwell").count();
  await page.getByText("Enter a dip…").click();
  const form = page.locator("#dip");
  await form.getByLabel("How", { exact: true }).selectOption("ullage");
  await form.getByLabel("The tape shows", { exact: true }).fill("218,4");
  await form.getByLabel("The tape shows, unit").selectOption("cm");
  await form.getByLabel("Density of a sample", { exact: true }).fill("0.998");
  await form.getByLabel("Density of a sample, unit").selectOption("g/cm3");
  await form.getByLabel("May be off by", { exact: true }).fill("little");
  const answer = page.waitForResponse((response) => response.request().method() === "POST");
  await form.getByRole("button", { name: "Enter it" }).click();
  assert.equal((await answer).status(), 422);
  assert.match(await page.locator(".said.refused").innerText(), /218,4/);
  assert.match(await form.locator("#dip-surface-wrong").innerText(), /218,4 cm.*write the decimals after one point/s);
  assert.equal(await form.locator("#dip-uncertainty").getAttribute("aria-invalid"), "true");
  assert.equal(await form.getByLabel("How", { exact: true }).inputValue(), "ullage");
  assert.equal(await form.getByLabel("The tape shows, unit").inputValue(), "cm");
  assert.equal(await form.getByLabel("Density of a sample", { exact: true }).inputValue(), "0.998");
  await form.getByLabel("The tape shows", { exact: true }).fill("218.4");
  await form.getByLabel("May be off by", { exact: true }).fill("");
  await form.getByRole("button", { name: "Enter it" }).click();
  assert.match(await page.locator(".said.done").innerText(), /dip, ullage 2\.184 m, density 998\.0 kg\/m3: level 3\.216 m ± .*the reading was 3\.21\d m/);
  assert.equal(await rows(page, "clearwell").count(), before + 1);
});

test("what the engine does not take comes back too", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ada", "/tank/surge");
  const sent = async (deed, fields) => {
    const token = await page.locator(".who input[name=token]").inputValue();
    const answer = await page.request.post(`${works.url}/do/${deed}`, { form: { token, tank: "surge", ...fields }, maxRedirects: 0 });
    return [answer.status(), await answer.text()];
  };
  for (const [deed, fields, told] of [
    ["dip", { way: "ullage", surface: "1 m" }, /\[tank\.dip\] point_at/],
    ["sight", { level: "9 m" }, /outside of the vessel/],
    ["sight", { level: "1.5 m", at: "2036-01-01T00:00" }, /yet to come/],
    ["sight", { level: "1.5 m", at: "2020-01-01T00:00" }, /not known any more/],
    ["sight", { level: "1.5 m", uncertainty: "2 m" }, /0\.5 m at most/],
    ["sight", { level: "1.5 m", reader: "B".repeat(81) }, /80 characters at most/],
    ["sight", {}, /say what the glass shows/],
  ]) {
    const [status, text] = await sent(deed, fields);
    assert.equal(status, 422, deed);
    assert.match(text, told);
    if (fields.level) assert.ok(text.includes(`value="${fields.level}"`), "what was typed is there");
  }
  assert.equal(await rows(page, "surge").count(), 0);
});

test("who only looks sees what was seen, and enters nothing", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ben", "/tank/clearwell");
  assert.ok((await rows(page, "clearwell").count()) >= 1);
  assert.equal(await page.getByText("Enter the sight glass…").count(), 0);
  const token = await page.locator(".who input[name=token]").inputValue();
  const send = async (fields) => page.request.post(`${works.url}/do/sight`,
    { form: { tank: "clearwell", level: "2.9 m", back: "/tank/clearwell", ...fields }, maxRedirects: 0 });
  assert.match(await (await send({ token })).text(), /takes the role &quot;operate&quot;; Ben has &quot;look&quot;/);
  assert.equal((await send({ token: "00" })).status(), 303);
  assert.match(journal(), /"sight" by Ben at the page/);
});

test("who takes over sees rounds that are due, and it is in the journal what was open", async () => {
  const page = await fresh();
  await signIn(page, works.url, "Ada", "/handover");
  assert.match(await page.locator("main").innerText(), /Due: 1\s+clearwell: round due at /);
  assert.match(await page.locator("section:has(#h-over)").innerText(), /Open: due 1/);
  await page.getByLabel("Taken over by").fill("Ben");
  await page.getByRole("button", { name: "Sign over" }).click();
  await page.locator(".said.done").waitFor();
  assert.match(journal("--kind", "note"), /shift handed over to Ben\. Open: due 1/);
});

test("a drift in the rounds is told to who takes over", async () => {
  const enter = () => works.command("sight", works.file, "clearwell", "2.60 m", "--uncertainty", "5 mm", "--by", "Ada");
  const page = await fresh();
  await page.goto(`${works.url}/tank/clearwell`);
  const says = async (words) => words.test(await page.locator("#e-clearwell").innerText());
  enter();
  await until("one that is apart", () => says(/The newest entry is further from the reading than both may be off.*look again/));
  enter();
  await until("two of them", () => says(/The newest 2 entries are further .*find the cause now/));
  for (let entry = 0; entry < 4; entry++) enter();
  await until("a drift", async () => /A drift stands: .*too high/.test(await page.locator("#e-clearwell").innerText()));
  await page.goto(`${works.url}/handover`);
  assert.match(await page.locator("main").innerText(), /clearwell: rounds\. A drift stands: it has come to read too high/);
});
