// When a view of the page is painted first, and when it shows what it is for: node first_paint.mjs ADDRESS
import { createRequire } from "node:module";
const { chromium } = createRequire(new URL("../page/", import.meta.url))("playwright-core");
const address = process.argv[2];
const views = [["bench", "#/bench", "h1, .hero"], ["builds", "#/builds", "table tbody tr"], ["trends", "#/trends", ".hits li"]];

const browser = await chromium.launch({ executablePath: "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"] });
for (const [name, hash, shown] of views) {
  const painted = [], complete = [];
  for (let i = 0; i < 5; i += 1) {
    const context = await browser.newContext(); // nothing is cached
    const page = await context.newPage();
    await page.goto(`${address}/${hash}`);
    await page.waitForSelector(shown);
    complete.push(await page.evaluate(() => performance.now()));
    painted.push(await page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? NaN));
    await context.close();
  }
  const three = (all) => { const s = all.sort((a, b) => a - b); return [s[0], s[2], s[4]].map((v) => v.toFixed(0).padStart(6)).join(" "); };
  console.log(`  page, ${name}: first paint`.padEnd(38) + `${three(painted)} ms; complete ${three(complete)} ms`);
}
await browser.close();
