// The frame around the views: which one is shown, the lines at the top, theme and keys.
import { tell_whether_acting } from "/page/acting.js";
import { bench_view } from "/page/bench.js";
import { builds_view } from "/page/builds.js";
import { compare_view } from "/page/compare.js";
import { fill, h, say, show } from "/page/dom.js";
import { clock_time } from "/page/format.js";
import { headline, subject } from "/page/headline.js";
import { letters_on, set_letters } from "/page/keys.js";
import { Live } from "/page/live.js";
import { queue_view } from "/page/queue.js";
import { read_route } from "/page/router.js";
import { run_view } from "/page/run.js";
import { stop_control } from "/page/stop.js";
import { take_token } from "/page/token.js";
import { trend_view } from "/page/trend.js";
import { tone } from "/page/verdict.js";

const views = { bench: bench_view, queue: queue_view, builds: builds_view, runs: run_view, compare: compare_view, trends: trend_view };
const homes = { runs: "builds", compare: "builds" };
const by_id = (id) => document.getElementById(id);
const live = new Live();
let leaving = null;

function open_view(first) {
  const at = read_route(location.hash), name = views[at.name] ? at.name : "bench";
  leaving?.abort();
  leaving = new AbortController();
  const view = views[name]({ live, signal: leaving.signal, rest: at.rest, query: at.query });
  fill(by_id("view"), view.node);
  view.shown?.();
  document.title = `${view.title} – cvrig`;
  for (const a of document.querySelectorAll(".views a")) {
    if (a.getAttribute("href") === `#/${homes[name] ?? name}`) a.setAttribute("aria-current", "page"); else a.removeAttribute("aria-current");
  }
  if (!first) { by_id("view").focus({ preventScroll: true }); scrollTo(0, 0); }
}

function draw_now() {
  const now = headline({ bench: live.bench, jobs: live.jobs, stopping: live.stopping, lost: live.lost_since !== null });
  by_id("now").className = `now ${tone(now.tone)}`;
  fill(by_id("now"), h("strong", {}, now.word), " ", h("span", {}, subject(now.job)));
  say(by_id("said"), live.bench ? [now.word, subject(now.job)].filter(Boolean).join(", ") : "");
  const asks = live.bench?.asks;
  say(by_id("asked"), asks && !live.stopping ? `Your turn: ${asks.instruction}. ${(asks.cautions ?? []).join(" ")}` : "");
  if (live.bench) say(by_id("about"), [live.bench.module, live.bench.bench ? `bench ${live.bench.bench}` : "", `cvrig ${live.bench.rig_version ?? ""}`].filter(Boolean).join(", "));
}

function draw_link() {
  const lost = live.lost_since;
  show(by_id("lost"), lost !== null);
  document.documentElement.classList.toggle("lost", lost !== null);
  if (lost) say(by_id("lost"), `No connection to the rig since ${clock_time(lost)}. What you see is from then. Trying again.`);
}

function theme_button() {
  const dark = matchMedia("(prefers-color-scheme: dark)"), root = document.documentElement;
  const is_dark = () => (root.dataset.theme ?? (dark.matches ? "dark" : "light")) === "dark";
  const draw = () => { say(by_id("theme"), is_dark() ? "Light page" : "Dark page"); document.dispatchEvent(new CustomEvent("cvrig-theme")); };
  by_id("theme").addEventListener("click", () => {
    root.dataset.theme = is_dark() ? "light" : "dark";
    localStorage.setItem("cvrig-theme", root.dataset.theme);
    draw();
  });
  dark.addEventListener("change", draw);
  draw();
}

function keys_button() {
  const draw = () => say(by_id("keys"), letters_on() ? "Letter keys are on" : "Letter keys are off");
  by_id("keys").addEventListener("click", () => { set_letters(!letters_on()); draw(); });
  draw();
}

take_token();
stop_control(live, by_id("stop"), by_id("stop-note"));
tell_whether_acting();
theme_button();
keys_button();
live.on(["bench", "queue", "link", "stopping"], draw_now);
live.on(["link"], draw_link);
addEventListener("hashchange", () => { if (take_token()) tell_whether_acting(); open_view(false); });
document.querySelector(".jump").addEventListener("click", (e) => { e.preventDefault(); by_id("view").focus(); });
open_view(true);
live.start();
