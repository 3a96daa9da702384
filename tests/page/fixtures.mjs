// Answers in the shape of rig/service/API.md, of the invented module Ferrule.

export const hostile = '<img src=x onerror="window.hurt=1">';

export function bench(over = {}) {
  return { format: "cvrig service 1", module: "Ferrule", bench: "desk", state: "playing", held: false, why_held: "",
           job: { id: 12, build: "slow-slide", commit: "v1.4.0-7-g3f9a2c1", unit: "7", image: "/home/maker/firmware/slow-slide.hex", attempt: 1 },
           plays: "tracking, slide (mode tied)", take: 3, takes: 20, attempt: 1, played_s: 8.4, planned_s: 56.2, left_s: 47.8,
           asks: null, rig_version: "1.0.0", ...over };
}

export const question = { number: 1, of: 3, instruction: "Set the lower switch to tied",
                          cautions: ["Disconnect headphones and loudspeakers from the control-voltage outputs."] };

export function levels(n = 240, phase = 0) {
  const stair = (i) => Math.floor(((i + phase) % n) / 20) / 12 * 4;
  const wave = (i, a) => a * (0.7 + 0.3 * Math.sin((i + phase) / 9));
  const channel = (jack, way, low, high) => ({ jack, way, low: Array.from({ length: n }, (_, i) => low(i)), high: Array.from({ length: n }, (_, i) => high(i)) });
  const gate = (i) => ((i + phase) % 20 < 15 ? 5 : 0);
  const channels = [channel("pitch", "out", stair, stair), channel("gate", "out", gate, gate),
                    channel("left", "in", (i) => -wave(i, 3.1), (i) => wave(i, 3.2)), channel("right", "in", (i) => -wave(i, 3.0), (i) => wave(i, 3.1))];
  const meter = (jack, way, peak_v, rms_v) => ({ jack, way, peak_v, rms_v, full_v: 10 });
  return { meters: [meter("pitch", "out", 1.67, 1.1), meter("gate", "out", 5, 3.4), meter("left", "in", 3.2, 1.4), meter("right", "in", 9.95, 1.3)],
           trace: { span_s: 2, channels } };
}

export function job(over = {}) {
  return { id: 12, state: "running", image: "/home/maker/firmware/slow-slide.hex", build: "slow-slide", commit: "v1.4.0-7-g3f9a2c1", unit: "7",
           asked: "2026-11-30T20:11:02Z", asked_by: "watch", started: "2026-11-30T20:11:04Z", ended: null, verdict: null, run: null, why: "", ...over };
}

export const queue = { jobs: [job({ id: 14, state: "waiting", build: "good-2", commit: "v1.4.0-9-g77aa012", asked_by: "submit", started: null }),
                              job({ id: 13, state: "waiting", build: "quiet", started: null }), job(),
                              job({ id: 11, state: "done", build: "good", verdict: "pass", run: 31, ended: "2026-11-30T19:55:40Z" }),
                              job({ id: 10, state: "failed", build: "flat", why: "Flashing failed: dfu-util ended with 74." }),
                              job({ id: 9, state: "stopped", build: "loud", why: "Stopped from the page." })] };

export function run(over = {}) {
  return { id: 31, started: "2026-11-30T19:54:40Z", unit: "7", bench: "desk", verdict: "pass", passed: 135, failed: 0, unsure: 0, skipped: 0, ...over };
}

export function build(over = {}) {
  return { id: 5, name: "good", version: "1.4.0", commit: "v1.4.0", sha256: "ba7816bf8f01cfea", size_bytes: 101376, first_seen: "2026-11-30T19:54:40Z", runs: [run()], ...over };
}

export const builds = [
  build({ id: 6, name: "slow-slide", version: "1.4.1", commit: "v1.4.0-7-g3f9a2c1", first_seen: "2026-11-30T20:11:04Z",
          runs: [run({ id: 33, unit: "7", verdict: "fail", passed: 119, failed: 8, unsure: 8 }), run({ id: 32, unit: "12", verdict: "unsure", passed: 127, unsure: 8 })] }),
  build({ runs: [run(), run({ id: 30, unit: "12" }), run({ id: 29 }), run({ id: 28 }), run({ id: 27, verdict: "skipped" })] }),
  build({ id: 4, name: "older", commit: "v1.3.2", first_seen: "2026-10-02T10:00:00Z", runs: [run({ id: 20, unit: "12", bench: "shelf", started: "2026-10-02T10:00:00Z" })] }),
];

const tied = { mode: "tied" };
function finding(over = {}) {
  return { check: "tracking", settings: tied, name: "error", verdict: "pass", reason: "", value: 1.234, unit: "cent", standard_uncertainty: 0.1, answer: null,
           limit: "within 5 cent", lower: -5, upper: 5, text: "1.23 cent ± 0.20 cent", ...over };
}

export const run_detail = {
  run: { ...run({ id: 33, verdict: "fail", passed: 119, failed: 8, unsure: 8 }), build: builds[0], module: "Ferrule", report: true },
  findings: [finding(), finding({ name: "hysteresis", text: "0.05 cent ± 0.02 cent", limit: "at most 1 cent" }),
    finding({ check: "slide", name: "time constant", verdict: "fail", reason: "At 1 V to 1.083 V: time constant is 176.1 ms, but the file demands 22 ms within 10 %.",
              text: "176.13 ms ± 0.19 ms", limit: "22 ms within 10 %" }),
    finding({ check: "retrigger", name: "slide", verdict: "unsure", reason: "The bench gave no reading to judge.", value: null, answer: "goes on", text: "", limit: "goes on" }),
    finding({ check: "image", settings: {}, name: "size", verdict: "skipped", reason: "no image was given", value: null, text: "", limit: "at most 120 KiB" })],
  takes: [] };

export function comparison(over = {}) {
  const b = builds[0].runs[0];
  return { a: { ...run(), build: builds[1] }, b: { ...b, build: builds[0] },
           circumstances: [{ what: "build", a: "good", b: "slow-slide" }], coverage_factor: 2, readings: 97, by_chance: 4.4,
           moved: [{ check: "slide", settings: tied, name: "time constant", a_text: "22.01 ms ± 0.12 ms", b_text: "176.13 ms ± 0.19 ms", difference: "+154.12 ms", times_allowed: 685.2, a_verdict: "pass", b_verdict: "fail" },
                   { check: "tracking", settings: tied, name: "error", a_text: "1.23 cent ± 0.20 cent", b_text: "2.41 cent ± 0.20 cent", difference: 1.18, difference_text: "1.18 cent", times_allowed: 4.17, a_verdict: "pass", b_verdict: "pass" }],
           other_verdicts: [{ check: "slide", settings: tied, name: "arrival", a_verdict: "pass", b_verdict: "unsure" }],
           not_compared: [{ check: "retrigger", settings: { mode: "wide" }, name: "slide", why: "run 33 has no reading" }], only_a: [], only_b: [], ...over };
}

export const readings = [
  { id: 3, check: "slide", settings: tied, name: "time constant", unit: "s", runs: 30 },
  { id: 4, check: "slide", settings: { mode: "wide" }, name: "time constant", unit: "s", runs: 30 },
  { id: 1, check: "tracking", settings: tied, name: "error", unit: "cent", runs: 31 },
  ...Array.from({ length: 20 }, (_, i) => ({ id: 100 + i, check: "level", settings: { mode: "tied", wave: `w${i}` }, name: "peak", unit: "V", runs: 2 }))];

export function trend(n = 30) {
  const points = Array.from({ length: n }, (_, i) => ({ run: 100 + i, build: `v1.4.0-${i}`, commit: `v1.4.0-${i}-gabc${i}`, started: new Date(Date.UTC(2026, 10, 1, 8, i)).toISOString(),
    value: (i < n / 2 ? 0.022 : 0.0236) + 0.0002 * Math.sin(i * 2.3), standard_uncertainty: 0.0001, verdict: i === n - 1 ? "fail" : i === 3 ? "unsure" : "pass", lower: 0.0198, upper: 0.0242 }));
  return { reading: readings[0], of: { module: "Ferrule", unit: "7", bench: "desk" }, points, coverage_factor: 2,
           change_points: [{ run: 100 + Math.ceil(n / 2), build: `v1.4.0-${Math.ceil(n / 2)}`, before: 0.022, after: 0.0236, difference: 0.0016, p: 0.00002 }] };
}
