import assert from "node:assert/strict";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { launch, open } from "./browser.mjs";
import * as told from "./fixtures.mjs";
import { Mock } from "./mock_service.mjs";

const { hostile } = told;
let browser, mock, tab, page;
before(async () => { browser = await launch(); });
after(async () => { await browser.close(); });
beforeEach(async () => { mock = await new Mock().start(); });
afterEach(async () => {
  assert.deepEqual(tab.errors, []);
  assert.deepEqual(tab.foreign, []);
  await tab.close();
  await mock.stop();
});

/** Opens a view with the token in place. */
async function enter(at, selector) {
  tab = await open(browser, `${mock.url}/#token=t0ken`);
  page = tab.page;
  await page.goto(`${mock.url}/${at}`);
  await page.waitForSelector(selector);
}
async function posted(path) {
  for (let i = 0; i < 2000 && !mock.posts.some((p) => p.path === path); i += 1) await new Promise((r) => setTimeout(r, 10));
  return mock.posts.find((p) => p.path === path);
}
const asked = (what) => mock.asked.filter((a) => a.startsWith(what));
const text_of = async (selector) => (await page.textContent(selector)).replace(/\s+/g, " ").trim();

test("the queue shows each job's state in words, and a waiting job can be taken out", async () => {
  await enter("#/queue", ".rows tbody tr");
  assert.equal(await page.locator(".rows tbody tr").count(), 6);
  assert.match(await text_of("main"), /1 run on the bench, 2 waiting\./);
  const states = await page.locator(".rows tbody td.state").allTextContents();
  assert.deepEqual(states, ["…waiting", "…waiting", "▸running", "✓pass", "!broken off", "■stopped"]);
  assert.match(await text_of("main"), /Flashing failed: dfu-util ended with 74\./);
  assert.equal(await page.locator(".rows tbody button").count(), 3);
  await page.getByRole("button", { name: "Take it out (quiet)" }).click();
  assert.equal((await posted("/api/jobs/13/cancel")).token, "t0ken");
  mock.tell("queue", { jobs: [told.job({ state: "done", verdict: "fail", run: 33 })] });
  await page.waitForFunction(() => document.querySelectorAll(".rows tbody tr").length === 1);
  assert.equal(await page.getAttribute(".rows tbody th a", "href"), "#/runs/33");
});

test("builds stand with their verdict, commit, size and runs by unit", async () => {
  await enter("#/builds", "tr[data-build]");
  const row = await text_of('tr[data-build="6"]');
  for (const part of ["✕fail", "slow-slide", "v1.4.0-7-g3f9a2c1", "99.0 KiB", "unit 7", "unit 12", "119 of 135 met, 8 not met, 8 unsure"]) assert.ok(row.includes(part), part);
  assert.match(await text_of('tr[data-build="5"] td.state'), /pass/);
  await page.click('tr[data-build="6"] a[href="#/runs/33"]');
  await page.waitForSelector(".run .headline");
  await page.goBack();
  await page.waitForSelector("tr[data-build]");
  await page.goForward();
  await page.waitForSelector(".run .headline");
  await page.reload();
  await page.waitForSelector(".run .headline");
});

test("a build is as good as the newest run of its worst unit", async () => {
  mock.builds = [told.build({ runs: [told.run({ id: 9, unit: "1" }), told.run({ id: 8, unit: "2", verdict: "unsure" }), told.run({ id: 7, unit: "1", verdict: "fail" })] })];
  await enter("#/builds", "tr[data-build]");
  assert.match(await text_of("td.state"), /unsure/);
});

test("a run of a part of the file makes a build worse, never better", async () => {
  const part = (over) => told.run({ unit: "1", partial: true, ...over });
  mock.builds = [told.build({ id: 3, runs: [part({ id: 9 }), told.run({ id: 8, unit: "1", verdict: "fail" })] }),
                 told.build({ id: 2, runs: [part({ id: 7, verdict: "fail" }), told.run({ id: 6, unit: "1" })] }),
                 told.build({ id: 1, runs: [part({ id: 5 })] })];
  await enter("#/builds", "tr[data-build]");
  const states = await page.locator("td.state").allTextContents();
  assert.match(states[0], /fail/);
  assert.match(states[1], /fail/);
  assert.match(states[2], /no whole run/);
});

test("only what is shown is asked for, of 100,000 runs as of three", async () => {
  const all = 50000;
  mock.builds = (limit, before) => { const top = Math.min(all, before - 1); return Array.from({ length: Math.min(limit, top) }, (_, i) => told.build({ id: top - i, name: `b${top - i}`,
    runs: [told.run({ id: 2 * (top - i) }), told.run({ id: 2 * (top - i) - 1, unit: "12" })] })); };
  await enter("#/builds", "tr[data-build]");
  assert.equal(await page.locator("tr[data-build]").count(), 50);
  await page.getByRole("button", { name: "Older builds" }).click();
  await page.waitForFunction(() => document.querySelectorAll("tr[data-build]").length === 100);
  assert.deepEqual(asked("/api/builds"), ["/api/builds?limit=50", `/api/builds?limit=50&before=${all - 49}`]);
});

test("a run that is filed appears without a reload, and ticks stay", async () => {
  await enter("#/builds", "tr[data-build]");
  await page.check('input[data-run="31"]');
  mock.builds = [told.build({ id: 7, name: "newest", runs: [told.run({ id: 40 })] }), ...told.builds];
  mock.tell("filed", { run: 40 });
  await page.waitForSelector('tr[data-build="7"]');
  assert.equal(await page.locator("tr[data-build]").count(), 4);
  assert.match(await text_of("tr[data-build] >> nth=0"), /newest/);
  assert.ok(await page.isChecked('input[data-run="31"]'));
});

test("two runs are chosen, the older one comes first, and a third takes the first one's place", async () => {
  await enter("#/builds", "tr[data-build]");
  await page.check('input[data-run="33"]');
  assert.match(await text_of(".choosebar"), /slow-slide \(unit 7\): choose one more run/);
  await page.check('input[data-run="31"]');
  assert.equal(await page.getAttribute(".choosebar a", "href"), "#/compare/31/33");
  await page.check('input[data-run="20"]');
  assert.equal(await page.isChecked('input[data-run="33"]'), false);
  assert.equal(await page.getAttribute(".choosebar a", "href"), "#/compare/20/31");
  await page.click(".choosebar a");
  await page.waitForSelector(".compare .moved");
  assert.deepEqual(asked("/api/compare"), ["/api/compare?a=20&b=31"]);
});

test("a run's findings stand by check with value, limit, verdict and reason", async () => {
  await enter("#/runs/33", ".run .headline");
  assert.equal(await page.textContent(".run .headline"), "Fail");
  assert.deepEqual(await page.locator(".check h2").allTextContents(), ["tracking✓pass", "slide✕fail", "retrigger?unsure", "image–skipped"]);
  const slide = await text_of('.check[data-verdict="fail"]');
  for (const part of ["time constant", "tied", "176.13 ms ± 0.19 ms", "22 ms within 10 %", "fail", "At 1 V to 1.083 V: time constant is 176.1 ms"]) assert.ok(slide.includes(part), part);
  assert.match(await text_of('.check[data-verdict="unsure"]'), /goes on/);
  assert.equal(await page.getAttribute(".links a.act", "href"), "/runs/33/report.html");
  await page.check("#only");
  assert.equal(await page.locator('.check[data-verdict="pass"]').isVisible(), false);
  assert.equal(await page.locator('.check[data-verdict="skipped"]').isVisible(), true);
});

test("what the daemon refuses is said in its words, and asked again on demand", async () => {
  await enter("#/runs/99", ".trouble");
  assert.match(await text_of(".trouble"), /There is no run 99\./);
  mock.run = { ...told.run_detail, run: { ...told.run_detail.run, id: 99 } };
  await page.getByRole("button", { name: "Ask again" }).click();
  await page.waitForSelector(".run .headline");
});

test("what moved is shown with both values and by how much, even where both pass", async () => {
  await enter("#/compare/31/33", ".compare .moved");
  assert.match(await text_of(".compare .lead"), /2 of 97 readings moved beyond both uncertainties, 1 of them though it passes in both\. By chance alone about 4 would\./);
  const row = await text_of(".moved tbody tr >> nth=1");
  for (const part of ["tracking, error", "tied", "1.23 cent ± 0.20 cent", "2.41 cent ± 0.20 cent", "+1.18 cent", "4.17"]) assert.ok(row.includes(part), part);
  assert.match(await text_of(".compare"), /slide, arrival \(mode tied\): ✓pass then \?unsure/);
  assert.equal(await page.locator(".notice.warn:visible").count(), 0);
});

test("two units or two benches are warned about in plain words", async () => {
  mock.compared = told.comparison({ circumstances: [{ what: "unit", a: "7", b: "12" }, { what: "bench", a: "desk", b: "shelf" }, { what: "coverage factor", a: "2", b: "3" }] });
  await enter("#/compare/31/33", ".compare .moved");
  const warned = await page.locator(".notice.warn").allTextContents();
  assert.equal(warned.length, 2);
  assert.match(warned[0], /two different units \(7 and 12\)/);
  assert.match(warned[1], /two different benches \(desk and shelf\)/);
  assert.match(await text_of(".compare"), /coverage factor: 2 and 3/);
});

test("a reading is found by words in any order, and leads to its trend", async () => {
  await enter("#/trends", ".hits li");
  assert.equal(await page.locator(".hits li").count(), 12);
  await page.fill("#find", "tied constant");
  assert.deepEqual(await page.locator(".hits a").allTextContents(), ["slide, time constant (mode tied)"]);
  await page.click(".hits a");
  await page.waitForSelector(".canvas canvas");
  assert.match(page.url(), /reading=3/);
  assert.equal(await page.inputValue("#find"), "tied constant");
  assert.deepEqual(asked("/api/trend"), ["/api/trend?reading=3"]);
});

test("a trend that is chosen by its address has the room, until another is looked for", async () => {
  await enter("#/bench", ".hero .word");
  await enter("#/trends?reading=2", ".canvas canvas");
  assert.equal(await page.locator(".hits li").count(), 0);
  await page.focus("#find");
  assert.equal(await page.locator(".hits li").count(), 12);
});

/** How many pixels of the plot are near that colour. */
function pixels(colour, near = 40) {
  return page.evaluate(([c, n]) => {
    const probe = document.createElement("span");
    probe.className = c;
    document.querySelector(".canvas").append(probe);
    const want = getComputedStyle(probe).color.match(/\d+/g).map(Number);
    probe.remove();
    let count = 0;
    for (const canvas of document.querySelectorAll(".canvas canvas")) {
      const d = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
      for (let i = 0; i < d.length; i += 4) if (d[i + 3] > 60 && [0, 1, 2].every((k) => Math.abs(d[i + k] - want[k]) < n)) count += 1;
    }
    return count;
  }, [colour, near]);
}

test("a trend shows points, the tolerance band and where it changed, and the same numbers as a table", async () => {
  await enter("#/trends?reading=3", ".canvas canvas");
  assert.ok(await pixels("ink-pass") > 300, "points");
  assert.ok(await pixels("ink-allowed") > 20000, "band");
  const line = await pixels("ink-change");
  assert.ok(line > 200, "mark of the change");
  assert.match(await text_of(".changes"), /Changed with build v1\.4\.0-15: 22 ms before, 23\.6 ms after \(\+1\.6 ms; by chance: less than 1 in 1000\)/);
  assert.equal(await page.locator(".numbers tbody tr").count(), 30);
  const newest = await text_of(".numbers tbody tr >> nth=0");
  for (const part of ["v1.4.0-29", "23.46", "ms", "0.2 ms", "19.8 to 24.2 ms", "fail"]) assert.ok(newest.includes(part), `${part} in ${newest}`);
  mock.trend = { ...told.trend(), change_points: [] };
  mock.tell("filed", { run: 1 });
  await page.waitForSelector("text=No change stands out");
  assert.ok(await pixels("ink-change") < line / 4, "no mark without a change");
});

test("a trend is narrowed to a unit and a bench, and the address keeps them", async () => {
  await enter("#/trends?reading=3", ".canvas canvas");
  await page.waitForSelector("input[name=unit]");
  await page.fill("input[name=unit]", "12");
  await page.press("input[name=unit]", "Enter");
  await page.waitForFunction(() => location.hash.includes("unit=12"));
  await page.waitForSelector(".canvas canvas");
  assert.equal(await page.inputValue("input[name=unit]"), "12");
  assert.ok(asked("/api/trend").includes("/api/trend?reading=3&unit=12"));
});

test("the arrow keys go from point to point and say what is there", async () => {
  await enter("#/trends?reading=3", ".canvas canvas");
  await page.focus(".canvas");
  await page.keyboard.press("ArrowLeft");
  assert.match(await text_of(".readout"), /v1\.4\.0-29: 23\.46\d* ± 0\.2 ms, fail/);
  await page.keyboard.press("ArrowLeft");
  assert.match(await text_of(".readout"), /v1\.4\.0-28/);
});

test("hostile names appear as text in every view", async () => {
  const named = told.build({ name: hostile, commit: hostile, version: hostile, runs: [told.run({ unit: hostile, bench: hostile })] });
  const item = { check: hostile, settings: { [hostile]: hostile }, name: hostile };
  mock.builds = [named];
  mock.queue = { jobs: [told.job({ build: hostile, unit: hostile, commit: hostile, why: hostile, asked_by: hostile })] };
  mock.run = { run: { ...told.run({ unit: hostile, bench: hostile }), build: named, module: hostile }, findings: [{ ...told.run_detail.findings[2], ...item, reason: hostile, text: hostile, limit: hostile }], takes: [] };
  mock.compared = told.comparison({ a: { ...told.run(), build: named }, b: { ...told.run({ id: 32 }), build: named },
    circumstances: [{ what: "unit", a: hostile, b: "7" }, { what: hostile, a: hostile, b: "x" }], moved: [{ ...told.comparison().moved[0], ...item, a_text: hostile, difference: hostile }],
    other_verdicts: [{ ...item, a_verdict: hostile, b_verdict: "pass" }], not_compared: [{ ...item, why: hostile }], only_a: [hostile], only_b: [] });
  mock.readings = [{ id: 3, ...item, unit: hostile, runs: 3 }];
  mock.trend = told.trend(6);
  mock.trend.reading = mock.readings[0];
  for (const p of [...mock.trend.points, ...mock.trend.change_points]) p.build = hostile;
  for (const [at, selector] of [["#/queue", ".rows tbody tr"], ["#/builds", "tr[data-build]"], ["#/runs/31", ".check"], ["#/compare/31/32", ".moved"], ["#/trends?reading=3", ".canvas canvas"]]) {
    await tab?.close();
    await enter(at, selector);
    assert.ok((await page.textContent("main")).includes(hostile), at);
    assert.equal(await page.locator("img").count(), 0, at);
    assert.equal(await page.evaluate(() => window.hurt), undefined, at);
  }
});
