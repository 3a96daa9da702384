// Ways to use the page: every view by keyboard, by screen reader's rules, in light and dark, on phones and walls.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { launch, open } from "./browser.mjs";
import { builds, question, run, build } from "./fixtures.mjs";
import { Mock } from "./mock_service.mjs";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const views = { "#/bench": ".hero .word", "#/queue": ".rows tbody tr", "#/builds": "tr[data-build]", "#/runs/33": ".run .headline",
                "#/compare/31/33": ".compare .moved", "#/trends?reading=3": ".canvas canvas" };
let browser, mock;
before(async () => { browser = await launch(); mock = await new Mock().start(); });
after(async () => { await browser.close(); await mock.stop(); });

async function each_view(options, act) {
  const tab = await open(browser, `${mock.url}/#token=t0ken`, options);
  for (const [at, selector] of Object.entries(views)) {
    await tab.page.goto(`${mock.url}/${at}`);
    await tab.page.waitForSelector(selector);
    await act(tab.page, at);
  }
  assert.deepEqual(tab.errors, []);
  assert.deepEqual(tab.foreign, []);
  await tab.close();
}

async function axe_finds(page) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  return violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).join("; ")}`);
}

for (const colorScheme of ["light", "dark"]) {
  test(`axe finds nothing in any view, ${colorScheme}`, async () => {
    await each_view({ colorScheme }, async (page, at) => assert.deepEqual(await axe_finds(page), [], at));
  });
  test(`axe finds nothing while the operator is asked, the queue is held or the connection is lost, ${colorScheme}`, async (t) => {
    const own = await new Mock().start();
    t.after(() => own.stop());
    own.bench = { ...own.bench, state: "asking", asks: question };
    const { page, close } = await open(browser, `${own.url}/`, { colorScheme });
    await page.waitForSelector(".operator:visible");
    assert.deepEqual(await axe_finds(page), [], "asked, without a token");
    own.set_bench({ state: "idle", held: true, why_held: "Stopped from the page." });
    await page.waitForFunction(() => document.querySelector(".hero .word").textContent === "Held");
    assert.deepEqual(await axe_finds(page), [], "held");
    await own.stop();
    await page.waitForSelector("#lost:visible");
    // What is stale is grey on purpose, as a control that is switched off: contrast is asked of the rest.
    await page.evaluate(() => document.querySelectorAll(".stale .ages").forEach((e) => e.remove()));
    assert.deepEqual(await axe_finds(page), [], "lost");
    await close();
  });
}

for (const width of [360, 768, 3840]) {
  test(`nothing is wider than a screen of ${width} px`, async () => {
    const own_builds = mock.builds;
    mock.builds = [build({ id: 7, name: "a-build-with-a-name-that-somebody-made-much-too-long-v1.4.0-117-g3f9a2c1-dirty", runs: [run({ unit: "unit-with-a-serial-number-0000000000000007" })] }), ...builds];
    await each_view({ viewport: { width, height: 800 } }, async (page, at) => {
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(over <= 0, `${at} is ${over} px too wide`);
      assert.ok(await page.locator("#stop").isVisible());
    });
    mock.builds = own_builds;
  });
}

// Common practice, no source: a letter's height of 1/200 of the distance reads with ease, so 10 mm at 2 m. At 96 px to the
// inch (CSS Values, 6.2) that is 38 px; capitals are about 0.72 of the font size.
test("state, take, time left and the operator's action can be read from two metres", async () => {
  const { page, close } = await open(browser, `${mock.url}/`, { viewport: { width: 1280, height: 800 } });
  await page.waitForSelector(".far:visible");
  const height = (s) => page.evaluate((q) => 0.72 * parseFloat(getComputedStyle(document.querySelector(q)).fontSize), s);
  assert.ok(await height(".hero .word") >= 3 * 38);
  for (const s of [".instruction", ".counts"]) assert.ok(await height(s) >= 38, s);
  await close();
});

test("the theme can be switched and stays through a reload", async () => {
  const { page, close } = await open(browser, `${mock.url}/`, { colorScheme: "light" });
  const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const light = await paper();
  await page.click("#theme");
  const dark = await paper();
  assert.notEqual(dark, light);
  await page.reload();
  assert.equal(await paper(), dark);
  await close();
});

/** Presses Tab until the focus is on something that `wanted` names; every stop on the way must show its focus. */
async function tab_to(page, wanted) {
  for (let i = 0; i < 80; i += 1) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement, s = getComputedStyle(e);
      return { text: (e.getAttribute("aria-label") || e.textContent || "").trim(), outline: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2, tag: e.tagName };
    });
    if (at.tag === "BODY") continue;
    assert.ok(at.outline, `focus on "${at.text}" cannot be seen`);
    if (at.text.includes(wanted)) return;
  }
  assert.fail(`"${wanted}" is not reached by Tab`);
}

test("everything is reached by keyboard alone: from the bench to a comparison, back, and to a trend", async () => {
  const { page, errors, close } = await open(browser, `${mock.url}/#token=t0ken`);
  await page.waitForSelector(".hero .word");
  await tab_to(page, "To the content");
  await page.keyboard.press("Enter");
  assert.equal(await page.evaluate(() => document.activeElement.id), "view");
  await page.reload();
  await tab_to(page, "Builds");
  await page.keyboard.press("Enter");
  await page.waitForSelector("tr[data-build]");
  await tab_to(page, "Compare run 33");
  await page.keyboard.press("Space");
  await tab_to(page, "Compare run 31");
  await page.keyboard.press("Space");
  await page.evaluate(() => document.querySelector("#view").focus());
  await tab_to(page, "Compare them");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".compare .moved");
  await page.reload();
  await tab_to(page, "Trends");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".hits li");
  await page.evaluate(() => document.querySelector("#view").focus());
  await page.keyboard.press("Tab");
  await page.keyboard.type("slide tied");
  await tab_to(page, "slide, time constant (mode tied)");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".canvas canvas");
  await tab_to(page, "Plot of slide");
  assert.deepEqual(errors, []);
  await close();
});

test("changes of state reach screen readers", async () => {
  const { page, close } = await open(browser, `${mock.url}/#token=t0ken`);
  await page.waitForFunction(() => document.querySelector("#said").textContent.includes("Playing, build slow-slide"));
  assert.equal(await page.getAttribute("#said", "aria-live"), "polite");
  assert.equal(await page.getAttribute("#asked", "aria-live"), "assertive");
  await close();
});

test("the first view is painted soon, and needs only what it shows (printed, not judged)", async (t) => {
  const { page, close } = await open(browser, `${mock.url}/#/builds`);
  await page.waitForSelector("tr[data-build]");
  const seen = await page.evaluate(() => ({ first: performance.getEntriesByName("first-contentful-paint")[0]?.startTime, bytes: performance.getEntriesByType("resource").reduce((n, r) => n + r.encodedBodySize, 0),
    library: performance.getEntriesByType("resource").some((r) => r.name.includes("dygraph")) }));
  t.diagnostic(`first contentful paint after ${Math.round(seen.first)} ms, ${Math.round(seen.bytes / 1024)} KiB in all`);
  assert.equal(seen.library, false);
  await close();
});
