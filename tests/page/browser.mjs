// A headless browser for the tests: one for all, a fresh context for each test.
import { existsSync } from "node:fs";
import { chromium } from "playwright-core";

export const program = "/usr/bin/chromium";

/** Whether the tests can run here. */
export const is_there = existsSync(program);

export function launch() {
  return chromium.launch({ executablePath: program, chromiumSandbox: false,
    args: ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"] });
}

/** A page of a fresh context that notes every error and every request that leaves the daemon. */
export async function open(browser, url, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...options });
  const page = await context.newPage(), errors = [], foreign = [];
  page.on("pageerror", (e) => errors.push(String(e)));
  page.on("console", (m) => { if (m.type() === "error" && !/Failed to load resource/.test(m.text())) errors.push(m.text()); });
  page.on("request", (r) => { if (new URL(r.url()).origin !== new URL(url).origin) foreign.push(r.url()); });
  await page.goto(url);
  return { page, context, errors, foreign, close: () => context.close() };
}
