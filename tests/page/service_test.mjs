// The page as the real daemon of this build serves it, from a job to a trend.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { launch, open } from "./browser.mjs";
import { Daemon, missing } from "./daemon.mjs";

const skip = missing || false;
let browser, daemon, tab, page;
before(async () => {
  if (skip) return;
  browser = await launch();
  daemon = await new Daemon().start();
  tab = await open(browser, `${daemon.url}/#token=${daemon.token}`);
  page = tab.page;
});
after(async () => { await browser?.close(); await daemon?.end(); });

const word_is = (word) => page.waitForFunction((w) => document.querySelector(".hero .word")?.textContent === w, word, { timeout: 30000 });
async function enter(at, selector) { await page.goto(`${daemon.url}/${at}`); await page.waitForSelector(selector); }
const text_of = async (selector) => (await page.textContent(selector)).replace(/\s+/g, " ").trim();

test("a job goes from idle over playing to its verdict on the page", { skip }, async () => {
  await word_is("Idle");
  assert.match(await text_of("#about"), /Ferrule, bench slow desk/);
  await daemon.submit("good");
  await word_is("Playing");
  assert.match(await text_of(".counts"), /Take \d of 2/);
  await page.waitForSelector(".meter");
  await word_is("Pass");
  assert.match(await text_of(".hero .about"), /build good, unit 7/);
  await page.getByText("What it found").click();
  await page.waitForSelector(".run .headline");
  assert.equal(await page.textContent(".run .headline"), "Pass");
});

test("Stop ends the run that plays and holds the queue until it is resumed", { skip }, async () => {
  await enter("#/bench", ".hero .word");
  await daemon.submit("slow-slide");
  await daemon.submit("good");
  await word_is("Playing");
  await page.keyboard.press("Escape");
  await word_is("Held");
  const { jobs } = await daemon.ask("/api/queue");
  assert.deepEqual(jobs.slice(0, 2).map((j) => j.state), ["waiting", "stopped"]);
  assert.equal((await daemon.ask("/api/bench")).held, true);
  await enter("#/queue", ".rows tbody tr");
  assert.match(await text_of(".rows tbody tr >> nth=0"), /waiting/);
  await page.getByRole("button", { name: /Take it out/ }).click();
  await page.waitForFunction(() => !document.querySelector(".rows tbody").textContent.includes("waiting"));
  await page.getByRole("button", { name: "Resume the queue" }).click();
  await page.waitForSelector(".heldnote", { state: "hidden" });
  assert.equal((await daemon.ask("/api/bench")).held, false);
});

test("a faulty build stands among the builds as the daemon tells it", { skip }, async () => {
  await daemon.submit("slow-slide");
  await enter("#/builds", "tr[data-build]");
  await page.waitForFunction(() => document.querySelectorAll("tr[data-build]").length === 2, null, { timeout: 30000 });
  const { builds } = await daemon.ask("/api/builds?limit=50");
  const rows = await page.locator("tr[data-build]").allTextContents();
  builds.forEach((b, i) => { assert.ok(rows[i].includes(b.called), b.called); assert.ok(rows[i].includes(b.runs[0].verdict)); });
  assert.equal(builds[0].runs[0].verdict, "fail");
});

test("a run's findings and its report are those that the daemon has", { skip }, async () => {
  const id = (await daemon.ask("/api/builds?limit=1")).builds[0].runs[0].id;
  await enter(`#/runs/${id}`, ".run .headline");
  const { findings } = await daemon.ask(`/api/runs/${id}`), text = await text_of("main");
  for (const f of findings) for (const part of [f.name, f.text, f.limit, f.reason]) if (part) assert.ok(text.includes(part.replace(/\s+/g, " ")), part);
  await page.getByRole("link", { name: "Full report" }).click();
  await page.waitForSelector(".headline");
  assert.equal(await page.textContent(".headline"), "Fail");
});

test("what moved between two builds is what the daemon says", { skip }, async () => {
  const { builds } = await daemon.ask("/api/builds?limit=2"), [b, a] = builds.map((x) => x.runs[0].id);
  await enter("#/builds", "tr[data-build]");
  await page.check(`input[data-run="${b}"]`);
  await page.check(`input[data-run="${a}"]`);
  await page.getByRole("link", { name: "Compare them" }).click();
  await page.waitForSelector(".compare .moved tbody tr");
  const { moved } = await daemon.ask(`/api/compare?a=${a}&b=${b}`);
  assert.ok(moved.length > 0);
  assert.equal(await page.locator(".moved tbody tr").count(), moved.length);
  assert.ok((await text_of(".moved tbody tr >> nth=0")).includes(moved[0].difference_text));
});

test("a trend has a row for each run that the daemon names", { skip }, async () => {
  await enter("#/trends", ".hits li");
  await page.fill("#find", "slide time tied");
  await page.click(".hits a");
  await page.waitForSelector(".canvas canvas");
  const id = new URLSearchParams(page.url().split("?")[1]).get("reading");
  const { points } = await daemon.ask(`/api/trend?reading=${id}`);
  assert.ok(points.length >= 2);
  assert.equal(await page.locator(".numbers tbody tr").count(), points.length);
});

test("a daemon that is killed and comes back is shown as lost, then as it is; its new token is asked for", { skip }, async () => {
  await enter("#/bench", ".hero .word");
  await daemon.kill();
  await word_is("No connection");
  await daemon.start(daemon.port);
  await word_is("Fail");
  await page.goto(`${daemon.url}/#/queue`);
  await page.click("#stop");
  await page.waitForSelector(".heldnote:visible");
  await page.getByRole("button", { name: "Resume the queue" }).click();
  await page.waitForSelector("#readonly:visible");
  assert.match(await text_of("#readonly"), /new token/);
});

test("nothing went wrong in the page, and nothing was asked of anybody but the daemon", { skip }, () => {
  assert.deepEqual(tab.errors, []);
  assert.deepEqual(tab.foreign, []);
});
