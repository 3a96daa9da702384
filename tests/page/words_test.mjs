import assert from "node:assert/strict";
import { test } from "node:test";
import { bench, job, queue } from "./fixtures.mjs";
import { page_module } from "./page_module.mjs";

const { headline, progress, subject } = await page_module("headline.js");
const { scale_for, quantity, reading_name, span, when } = await page_module("format.js");
const { event_parser, wait_ms } = await page_module("stream.js");
const { read_route, route } = await page_module("router.js");

const said = (over, more = {}) => headline({ bench: bench(over), jobs: queue.jobs, stopping: false, lost: false, ...more });

test("the word says what goes on", () => {
  for (const [state, word] of [["building", "Building"], ["flashing", "Flashing"], ["proving", "Proving"], ["playing", "Playing"], ["judging", "Judging"], ["asking", "Your turn"]])
    assert.equal(said({ state }).word, word);
});

test("an idle bench shows the verdict of the run that ended last", () => {
  const now = said({ state: "idle", job: null });
  assert.equal(now.word, "Pass");
  assert.equal(now.job.run, 31);
  assert.equal(headline({ bench: bench({ state: "idle" }), jobs: [], stopping: false, lost: false }).word, "Idle");
});

test("a run that broke off or was stopped never reads as a verdict", () => {
  const idle = bench({ state: "idle", job: null });
  assert.equal(headline({ bench: idle, jobs: [job({ state: "failed" })], stopping: false, lost: false }).word, "No verdict");
  assert.equal(headline({ bench: idle, jobs: [job({ state: "stopped" })], stopping: false, lost: false }).word, "Stopped");
  // What was taken out while it waited never ran; of those that ran, the last to end counts.
  const out = job({ id: 9, state: "stopped", attempts: 0, ended: "2026-05-01T12:00:09Z" });
  const late = job({ id: 7, state: "done", verdict: "pass", attempts: 1, ended: "2026-05-01T12:00:08Z" });
  const early = job({ id: 8, state: "failed", attempts: 1, ended: "2026-05-01T12:00:05Z" });
  assert.equal(headline({ bench: idle, jobs: [out, early, late], stopping: false, lost: false }).word, "Pass");
});

test("a held queue, a pressed Stop and a lost connection come before anything else", () => {
  assert.equal(said({ state: "idle", held: true }).word, "Held");
  assert.equal(said({}, { stopping: true }).word, "Stopping");
  const lost = said({}, { lost: true });
  assert.equal(lost.word, "No connection");
  assert.equal(lost.kicker, "Before that: Playing");
});

test("time left counts down while something plays, and not below nothing", () => {
  assert.equal(progress(bench(), 7.8).left_s, 40);
  assert.equal(progress(bench(), 1000).left_s, 0);
  assert.equal(progress(bench(), 1000).fraction, 1);
  assert.equal(progress(bench({ state: "asking" }), 7.8).left_s, 47.8);
  assert.equal(progress(bench({ state: "idle" }), 0), null);
});

test("a job is called by what is known of it", () => {
  assert.equal(subject(job()), "build slow-slide, unit 7");
  assert.equal(subject(job({ build: "", unit: "" })), "slow-slide.hex");
  assert.equal(subject(null), "");
});

test("spans of time read as somebody would say them", () => {
  assert.deepEqual([0, 8.4, 80, 3600, 7500].map(span), ["0 s", "8 s", "1 min 20 s", "1 h 0 min", "2 h 5 min"]);
});

test("a time of today has no date, an older one has", () => {
  const now = new Date(2026, 10, 30, 22, 0);
  assert.equal(when(new Date(2026, 10, 30, 21, 40).toISOString(), now), "21:40");
  assert.equal(when(new Date(2026, 9, 2, 10, 0).toISOString(), now), "2 Oct, 10:00");
  assert.equal(when(new Date(2025, 9, 2, 10, 0).toISOString(), now), "2 Oct 2025, 10:00");
  assert.equal(when("", now), "");
});

// Prefixes: SI Brochure, 9th edition (2019), table 7.
test("numbers are shown in a fit multiple of their unit", () => {
  assert.equal(quantity(0.0221, "s"), "22.1 ms");
  assert.equal(quantity(-0.000002, "V"), "-2 µV");
  assert.equal(quantity(12500, "Hz"), "12.5 kHz");
  assert.equal(quantity(1.25, "cent"), "1.25 cent");
  assert.equal(quantity(null, "s"), "");
  assert.equal(scale_for("s", 0).unit, "s");
});

test("a reading is called by check, name and settings", () => {
  assert.equal(reading_name({ check: "slide", name: "arrival", settings: { mode: "tied", wave: "saw" } }), "slide, arrival (mode tied, wave saw)");
  assert.equal(reading_name({ check: "image", name: "size", settings: {} }), "image, size");
});

// The rules of HTML Living Standard, 9.2.6 "Interpreting an event stream".
test("events are read however the stream is cut", () => {
  const whole = ": still here\n\nevent: bench\ndata: {\"a\":1}\n\nevent: queue\r\ndata: one\r\ndata: two\r\n\r\ndata:bare\n\nevent: half\ndata: x\n";
  const expected = [{ name: "bench", data: "{\"a\":1}" }, { name: "queue", data: "one\ntwo" }, { name: "message", data: "bare" }];
  for (let cut = 0; cut <= whole.length; cut += 1) {
    const parser = event_parser();
    assert.deepEqual([...parser.push(whole.slice(0, cut)), ...parser.push(whole.slice(cut))], expected);
  }
});

test("tries to connect come slower and slower, but never later than after 10 s", () => {
  assert.deepEqual([0, 1, 2, 3, 4, 5, 20].map(wait_ms), [500, 1000, 2000, 4000, 8000, 10000, 10000]);
});

test("a route survives its way through the address", () => {
  const made = route(["trends"], { reading: 3, find: "slide & time", unit: "" });
  assert.deepEqual(read_route(made), { name: "trends", rest: [], query: { reading: "3", find: "slide & time" } });
  assert.deepEqual(read_route("#/compare/31/33"), { name: "compare", rest: ["31", "33"], query: {} });
  assert.equal(read_route("").name, "bench");
  assert.equal(read_route("#/runs/%").rest[0], "%");
});

test("of the settings only those that differ tell items apart", async () => {
  const { choice, told_apart } = await page_module("format.js");
  const { items, same } = told_apart([{ telling: { mode: "tied", knob: "down" } }, { telling: { mode: "wide", knob: "down" } }, { settings: {} }]);
  assert.deepEqual(items.map(choice), ["mode tied", "mode wide", ""]);
  assert.equal(same, "knob down");
});
