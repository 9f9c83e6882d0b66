// Takes pictures of pages as they look: node look.mjs FOLDER [PATH …]; for people, not a test.
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { openBrowser, signIn, startWorks } from "./works.mjs";

const [folder = "/tmp/look", ...paths] = process.argv.slice(2);
mkdirSync(folder, { recursive: true });
const works = await startWorks();
const browser = await openBrowser();
try {
  await new Promise((later) => setTimeout(later, 1500));
  Object.assign(works.plant.values, [48.6, -15.6, 10.1, 1.2]);
  works.plant.bits[0] = process.env.SUPPRESS === "1";
  await new Promise((later) => setTimeout(later, 2500));
  if (process.env.FAIL) works.plant.values[1] = NaN;
  await new Promise((later) => setTimeout(later, Number(process.env.WAIT || 1500)));
  for (const scheme of (process.env.SCHEMES || "light,dark").split(",")) {
    for (const width of (process.env.WIDTHS || "360,800,1440").split(",").map(Number)) {
      const context = await browser.newContext({ colorScheme: scheme, viewport: { width, height: 900 } });
      const page = await context.newPage();
      page.on("console", (message) => console.log(message.text()));
      page.on("pageerror", (error) => console.log(String(error)));
      if (process.env.AS) await signIn(page, works.url, process.env.AS);
      for (const path of paths.length ? paths : ["/", "/alarms"]) {
        await page.goto(works.url + path);
        await page.waitForTimeout(1200);
        const name = path.replaceAll(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "overview";
        await page.screenshot({ path: join(folder, `${name}-${width}-${scheme}.png`), fullPage: process.env.FULL !== "0" });
      }
      await context.close();
    }
  }
} finally {
  await browser.close();
  await works.stop();
}
