import assert from "node:assert/strict";
import { after, before, beforeEach, afterEach, test } from "node:test";
import { launch, open } from "./browser.mjs";
import { hostile, levels, question } from "./fixtures.mjs";
import { Mock } from "./mock_service.mjs";

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

async function enter(fragment = "#token=t0ken", options = {}) {
  tab = await open(browser, `${mock.url}/${fragment}`, options);
  page = tab.page;
  await page.waitForSelector(".hero .word");
}
const word_is = (word) => page.waitForFunction((w) => document.querySelector(".hero .word")?.textContent === w, word, { timeout: 20000 });
const posts_to = (path) => mock.posts.filter((p) => p.path === path);
async function posted(path, n = 1) {
  for (let i = 0; i < 2000 && posts_to(path).length < n; i += 1) await new Promise((r) => setTimeout(r, 10));
  assert.equal(posts_to(path).length, n);
  return posts_to(path)[n - 1];
}

test("the bench's state, take, time and levels are shown as the daemon tells them", async () => {
  await enter();
  await word_is("Playing");
  assert.match(await page.textContent(".hero .about"), /Ferrule, build slow-slide, unit 7/);
  assert.match(await page.textContent(".hero"), /tracking, slide \(mode tied\)/);
  assert.equal(await page.textContent(".take"), "Take 3 of 20");
  assert.match(await page.textContent(".left"), /^4[678] s left$/);
  const meter = page.getByRole("meter", { name: "left, in" });
  assert.match(await meter.getAttribute("aria-valuetext"), /peak 3\.20 V, RMS 1\.40 V of 10\.0 V/);
  assert.match(await page.textContent(".meters:has-text('right')"), /full!/);
  mock.set_bench({ state: "judging" });
  await word_is("Judging");
});

test("a peak is held after the level has gone down", async () => {
  await enter();
  const held = () => page.evaluate(() => document.querySelector(".meter .held").style.left);
  await page.waitForFunction(() => document.querySelector(".meter .held")?.style.left === "16.7%");
  const quiet = levels();
  quiet.meters[0].peak_v = 0.1;
  mock.tell("levels", quiet);
  await page.waitForFunction(() => document.querySelector(".meter .value").textContent === "0.10 V");
  assert.equal(await held(), "16.7%");
});

test("the trace has a lane for each channel", async () => {
  await enter();
  await page.waitForFunction(() => {
    const c = document.querySelector("canvas.trace");
    return c.width > 0 && c.getContext("2d").getImageData(0, 0, c.width, c.height).data.some((v) => v > 0);
  });
  assert.equal(await page.evaluate(() => document.querySelector("canvas.trace").clientHeight), 4 * 56);
  assert.match(await page.getAttribute("canvas.trace", "aria-label"), /pitch out, gate out, left in, right in/);
});

test("Stop reacts before the daemon has answered, and the word changes with its answer", async () => {
  mock.stop_delay_ms = 700;
  await enter();
  await word_is("Playing");
  await page.click("#stop");
  assert.equal(await page.textContent(".hero .word"), "Stopping");
  assert.equal(await page.textContent("#stop .word"), "Stopping");
  const sent = await posted("/api/stop");
  assert.equal(sent.kind, "application/json");
  await word_is("Held");
  assert.equal(await page.textContent("#stop .word"), "Stop");
  assert.match(await page.textContent(".hero"), /Stopped from the page\./);
});

test("Escape stops on every view, from within a field, and without a token", async () => {
  await enter("#/bench");
  let n = 0;
  for (const at of ["#/bench", "#/queue", "#/builds", "#/runs/33", "#/compare/31/33", "#/trends"]) {
    await page.goto(`${mock.url}/${at}`);
    if (at === "#/trends") await page.focus("input[type=search]");
    assert.ok(await page.isVisible("#stop"), at);
    await page.keyboard.press("Escape");
    assert.equal((await posted("/api/stop", ++n)).token, null);
  }
});

test("a Stop that does not get through says so, is tried again, and is told when it has", async () => {
  await enter();
  await word_is("Playing");
  mock.refuses_stop = true;
  await page.click("#stop");
  await page.waitForSelector("#stop-note:visible");
  assert.match(await page.textContent("#stop-note"), /has NOT reached the rig: The run does not end\./);
  mock.refuses_stop = false;
  await word_is("Held");
  await page.waitForSelector("#stop-note", { state: "hidden" });
  assert.ok(posts_to("/api/stop").length >= 2);
});

test("a held queue is resumed with the token", async () => {
  mock.bench = { ...mock.bench, state: "idle", held: true, why_held: "Stopped from the page." };
  await enter();
  await word_is("Held");
  await page.getByRole("button", { name: "Resume the queue" }).click();
  assert.equal((await posted("/api/resume")).token, "t0ken");
  await word_is("Pass");
});

test("the operator's action is large, with its cautions, and is answered by a button", async () => {
  await enter();
  mock.set_bench({ state: "asking", asks: question });
  await page.waitForSelector(".operator:visible");
  assert.equal(await page.textContent(".instruction"), question.instruction);
  assert.match(await page.textContent(".operator .cautions"), /Disconnect headphones/);
  assert.ok(await page.evaluate(() => parseFloat(getComputedStyle(document.querySelector(".instruction")).fontSize)) >= 60);
  assert.match(await page.textContent("#asked"), /Set the lower switch to tied/);
  await page.getByRole("button", { name: "Skip" }).click();
  assert.deepEqual((await posted("/api/answer")).body, { number: 1, answer: "skip" });
  assert.ok(await page.getByRole("button", { name: "Done" }).isDisabled());
});

test("Enter, s and a answer an action, once", async () => {
  await enter();
  let n = 0;
  for (const [key, answer] of [["Enter", "done"], ["s", "skip"], ["a", "end"]]) {
    const number = ++n;
    mock.set_bench({ state: "asking", asks: { ...question, number } });
    await page.waitForFunction((t) => document.querySelector(".operator .step")?.textContent === t, `Action ${number} of 3`);
    await page.keyboard.press(key);
    await page.keyboard.press(key);
    assert.deepEqual((await posted("/api/answer", n)).body, { number, answer });
  }
});

test("letter keys can be switched off, and then only Enter answers", async () => {
  await enter();
  await page.click("#keys");
  await page.evaluate(() => document.activeElement.blur());
  mock.set_bench({ state: "asking", asks: question });
  await page.waitForSelector(".operator:visible");
  await page.keyboard.press("a");
  await page.keyboard.press("Enter");
  assert.deepEqual((await posted("/api/answer")).body, { number: 1, answer: "done" });
});

test("without a token the page says how to get one, and shows no way to act but Stop", async () => {
  mock.bench = { ...mock.bench, state: "asking", asks: question };
  await enter("");
  await page.waitForSelector("#readonly:visible");
  assert.match(await page.textContent("#readonly"), /cvrig status/);
  await page.waitForSelector(".operator:visible");
  assert.ok(await page.getByRole("button", { name: "Done" }).isDisabled());
  await page.keyboard.press("Enter");
  await page.click("#stop");
  await posted("/api/stop");
  assert.equal(posts_to("/api/answer").length, 0);
});

test("the token leaves the address, stays in the tab through a reload, and goes with what needs it", async () => {
  mock.bench = { ...mock.bench, held: true, state: "idle" };
  await enter("#token=t0ken");
  assert.ok(!page.url().includes("t0ken"));
  await page.reload();
  await page.getByRole("button", { name: "Resume the queue" }).click();
  assert.equal((await posted("/api/resume")).token, "t0ken");
  assert.equal(await page.evaluate(() => JSON.stringify(localStorage).includes("t0ken") || document.cookie.includes("t0ken")), false);
});

test("a token that the daemon no longer knows makes the page read-only and is forgotten", async () => {
  mock.bench = { ...mock.bench, held: true, state: "idle" };
  await enter("#token=old");
  await page.getByRole("button", { name: "Resume the queue" }).click();
  await page.waitForSelector("#readonly:visible");
  assert.match(await page.textContent("#readonly"), /new token/);
  assert.equal(await page.evaluate(() => sessionStorage.length), 0);
});

test("a lost connection is plain to see, and what comes back replaces what was", async () => {
  await enter();
  await word_is("Playing");
  const { port } = mock;
  await mock.stop();
  await word_is("No connection");
  assert.match(await page.textContent("#lost"), /No connection to the rig since \d\d:\d\d:\d\d\./);
  assert.equal(await page.evaluate(() => getComputedStyle(document.querySelector(".signals")).opacity), "0.5");
  mock.bench = { ...mock.bench, state: "judging" };
  await mock.start(port);
  await word_is("Judging");
  assert.ok(await page.isHidden("#lost"));
});

test("hostile names on the bench are text", async () => {
  mock.bench = { ...mock.bench, module: hostile, bench: hostile, plays: hostile, state: "asking", why_held: hostile,
                 job: { ...mock.bench.job, build: hostile, unit: hostile }, asks: { ...question, instruction: hostile, cautions: [hostile] } };
  mock.levels.meters[0].jack = mock.levels.trace.channels[0].jack = hostile;
  await enter();
  await word_is("Your turn");
  assert.equal(await page.textContent(".instruction"), hostile);
  assert.equal(await page.locator("img").count(), 0);
  assert.equal(await page.evaluate(() => window.hurt), undefined);
});

test("with reduced motion nothing moves by a transition", async () => {
  await enter("#token=t0ken", { reducedMotion: "reduce" });
  await word_is("Playing");
  const moving = await page.evaluate(() => [...document.querySelectorAll("*")].filter((e) => parseFloat(getComputedStyle(e).transitionDuration) > 0 || getComputedStyle(e).animationName !== "none").length);
  assert.equal(moving, 0);
});
