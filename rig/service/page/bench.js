// The bench now: what goes on, how far it is, what the operator does next, levels and trace.
import { act, may_act } from "/page/acting.js";
import { fill, h, say, show } from "/page/dom.js";
import { count, span } from "/page/format.js";
import { headline, progress, subject } from "/page/headline.js";
import { meter_panel } from "/page/meters.js";
import { operator_panel } from "/page/operator.js";
import { route } from "/page/router.js";
import { trace_panel } from "/page/trace.js";
import { tone } from "/page/verdict.js";

function waiting_text(jobs) {
  const n = (jobs ?? []).filter((j) => j.state === "waiting").length;
  return n === 0 ? "No run is waiting." : `${count(n, "run")} waiting.`;
}

function make_hero() {
  const kicker = h("p", { class: "kicker" }), word = h("span", { class: "word" }), about = h("span", { class: "about" });
  const line = h("p", { class: "line" }), link = h("p", { class: "line" });
  const bar = h("progress", { max: 1, value: 0, "aria-label": "Played of this run" });
  const take = h("span", { class: "take" }), left = h("span", { class: "left" });
  const far = h("div", { class: "far", hidden: true }, bar, h("p", { class: "counts" }, take, left));
  const resume = h("button", { type: "button", class: "act resume", hidden: true, on: { click: () => act("/api/resume") } }, "Resume the queue");
  const waiting = h("a", { href: "#/queue" });
  const node = h("section", { class: "hero", "aria-label": "Now" }, kicker, h("h1", {}, word, about), h("div", { class: "ages" }, line, link, far),
                 h("p", { class: "under" }, resume, waiting));
  return { node, kicker, word, about, line, link, bar, take, left, far, resume, waiting };
}

function draw_hero(hero, live) {
  const shown = headline({ bench: live.bench, jobs: live.jobs, stopping: live.stopping, lost: live.lost_since !== null });
  hero.node.className = `hero ${tone(shown.tone)}${shown.word.length > 8 ? " long" : ""}`;
  say(hero.kicker, shown.kicker);
  say(hero.word, shown.word);
  const module = live.bench?.module ?? "", job = subject(shown.job);
  say(hero.about, [module, job].filter(Boolean).join(", "));
  say(hero.line, shown.line);
  const run = shown.job?.run ?? null;
  if (hero.shown_run !== run) {
    hero.shown_run = run;
    fill(hero.link, run === null ? null : h("a", { href: route(["runs", run]) }, "What it found"));
  }
  show(hero.resume, Boolean(live.bench?.held) && may_act());
  say(hero.waiting, waiting_text(live.jobs));
}

function draw_progress(hero, live) {
  const far = progress(live.bench, live.lost_since ? 0 : (performance.now() - live.bench_at) / 1000);
  show(hero.far, far !== null);
  if (far === null) return;
  hero.bar.value = far.fraction;
  say(hero.take, `Take ${far.take} of ${far.takes}`);
  say(hero.left, live.stopping ? "" : `${span(far.left_s)} left`);
}

/** The view; `live` tells what goes on. */
export function bench_view({ live, signal }) {
  const hero = make_hero(), operator = operator_panel(), meters = meter_panel(), trace = trace_panel();
  const node = h("div", { class: "bench" }, operator.node, hero.node, h("div", { class: "signals ages" }, meters.node, trace.node));

  function draw() {
    draw_hero(hero, live);
    draw_progress(hero, live);
    operator.update(live.stopping || live.lost_since ? null : live.bench?.asks);
    node.classList.toggle("stale", live.lost_since !== null);
    node.classList.toggle("asks", !operator.node.hidden);
  }
  function levels() {
    meters.update(live.levels?.meters);
    trace.update(live.levels?.trace, live.levels?.meters);
  }
  live.on(["bench", "queue", "link", "stopping"], draw, signal);
  live.on(["levels"], levels, signal);
  document.addEventListener("keydown", (e) => operator.press(e), { signal });
  const tick = setInterval(() => draw_progress(hero, live), 500);
  signal.addEventListener("abort", () => { clearInterval(tick); trace.close(); });
  draw();
  levels();
  return { title: "Bench", node };
}
