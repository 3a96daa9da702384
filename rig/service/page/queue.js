// The queue: what waits, what runs, what has been; waiting and running jobs can be cancelled.
import { act, may_act } from "/page/acting.js";
import { fill, h, say, show } from "/page/dom.js";
import { count, when } from "/page/format.js";
import { route } from "/page/router.js";
import { badge } from "/page/verdict.js";

const words = { waiting: "waiting", running: "running", done: "done", stopped: "stopped", failed: "broken off" };
const asked_by = { watch: "a new image", submit: "by hand" };

function name_of(job) { return job.build || (job.image ?? "").split("/").pop() || `job ${job.id}`; }

function state_of(job) {
  const badges = [];
  if (job.state !== "done") badges.push(badge(job.state, words[job.state] ?? job.state));
  if (job.verdict) badges.push(badge(job.verdict));
  return badges;
}

function cancel_of(job) {
  if (!["waiting", "running"].includes(job.state)) return null;
  const running = job.state === "running";
  const button = h("button", { type: "button", class: "act small", disabled: !may_act(), on: { click: async () => {
    button.disabled = true;
    if (!(await act(`/api/jobs/${encodeURIComponent(job.id)}/cancel`))) button.disabled = false;
  } } }, running ? "Stop this run" : "Take it out", h("span", { class: "aloud" }, ` (${name_of(job)})`));
  return button;
}

function row(job) {
  return h("tr", {},
    h("td", { class: "state" }, state_of(job)),
    h("th", { scope: "row" }, job.run !== null && job.run !== undefined ? h("a", { href: route(["runs", job.run]) }, name_of(job)) : name_of(job),
      job.commit ? h("code", { class: "commit" }, job.commit) : null, job.why ? h("p", { class: "why" }, job.why) : null),
    h("td", { "data-head": "unit" }, job.unit || "–"),
    h("td", { "data-head": "asked" }, when(job.asked), h("span", { class: "quiet" }, ` ${asked_by[job.asked_by] ?? job.asked_by ?? ""}`)),
    h("td", {}, cancel_of(job)));
}

/** The view. */
export function queue_view({ live, signal }) {
  const body = h("tbody"), empty = h("p", { class: "quiet" }, "Nothing has been asked for yet."), tally = h("p", { class: "tally" });
  const resume = h("button", { type: "button", class: "act", on: { click: () => act("/api/resume") } }, "Resume the queue");
  const held = h("div", { class: "heldnote" }, h("p"), resume);
  const table = h("table", { class: "rows ages" }, h("caption", {}, "Jobs, newest first"),
    h("thead", {}, h("tr", {}, ["State", "Build", "Unit", "Asked", ""].map((t) => h("th", { scope: "col" }, t || h("span", { class: "aloud" }, "Cancel"))))), body);
  const node = h("section", { class: "queueview" }, h("h1", {}, "Queue"), tally, held, empty, table);
  let drawn = "";

  function draw() {
    const jobs = live.jobs ?? [], text = JSON.stringify([jobs, may_act()]);
    show(held, Boolean(live.bench?.held));
    show(resume, may_act());
    say(held.firstChild, `The queue is held. ${live.bench?.why_held ?? ""}`);
    node.classList.toggle("stale", live.lost_since !== null);
    if (text === drawn) return;
    drawn = text;
    const of = (state) => jobs.filter((j) => j.state === state).length;
    say(tally, `${count(of("running"), "run")} on the bench, ${of("waiting")} waiting.`);
    show(empty, jobs.length === 0);
    show(table, jobs.length > 0);
    fill(body, jobs.map(row));
  }
  live.on(["queue", "bench", "link"], draw, signal);
  draw();
  return { title: "Queue", node };
}
