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
    launchOptions: { executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox"] },
  },
  // A fiftieth of the dots may differ a little: the edges of letters and curves are drawn differently by other builds.
  expect: { toHaveScreenshot: { maxDiffPixelRatio: 0.02, threshold: 0.2, animations: "disabled" } },
});
