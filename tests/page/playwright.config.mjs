// Pictures are compared by Playwright's own runner; everything else by Node's.
import { defineConfig } from "@playwright/test";

export default defineConfig({
  testDir: ".",
  testMatch: "pictures.spec.mjs",
  outputDir: "../.cache/pictures",
  snapshotPathTemplate: "{testDir}/pictures/{arg}{ext}",
  updateSnapshots: process.env.STANDPIPE_GOLDEN === "write" ? "all" : "none",
  workers: 1,
  reporter: "list",
  use: {
    javaScriptEnabled: false,
    launchOptions: { executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox", "--disable-lcd-text", "--font-render-hinting=none"] },
  },
  // By the same Chromium and fonts all dots are alike but for the odd edge of a letter: a hundred may differ, by a
  // twentieth in colour.
  expect: { toHaveScreenshot: { maxDiffPixels: 100, threshold: 0.05, animations: "disabled" } },
});
