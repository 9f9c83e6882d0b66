// Takes pictures of pages as they look: node look.mjs FOLDER [PATH …]; for people, not a test.
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { openBrowser, signIn, startWorks } from "./works.mjs";

const [folder = "/tmp/look", ...paths] = process.argv.slice(2);
mkdirSync(folder, { recursive: true });
const works = process.env.URL ? { url: process.env.URL, stop() {} } : await startWorks();
const browser = await openBrowser();
try {
  await new Promise((later) => setTimeout(later, 1500));
  if (works.plant) {
    Object.assign(works.plant.values, [48.6, process.env.FAIL ? NaN : -15.6, 10.1, 1.2]);
    works.plant.bits[0] = process.env.SUPPRESS === "1";
  }
  await new Promise((later) => setTimeout(later, Number(process.env.WAIT || 4000)));
  for (const scheme of (process.env.SCHEMES || "light,dark").split(",")) {
    for (const width of (process.env.WIDTHS || "360,800,1440").split(",").map(Number)) {
      const context = await browser.newContext({ colorScheme: scheme, viewport: { width, height: 900 } });
      const page = await context.newPage();
      // The style and the script as they stand in the source, without building the program anew.
      for (const name of ["style.css", "live.js"]) {
        await page.route(`**/${name}`, (route) => route.fulfill({ path: join(import.meta.dirname, "../../src/page", name) }));
      }
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
