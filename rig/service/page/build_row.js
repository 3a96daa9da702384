// One build and its runs as a row of the table.
import { h } from "/page/dom.js";
import { count, size } from "/page/format.js";
import { build_name, tally, time_of } from "/page/names.js";
import { route } from "/page/router.js";
import { badge, worst } from "/page/verdict.js";

const shown_runs = 4;

/** What is known of the build now: the worst of each unit's newest whole run and of what newer runs of a part of the file found
    wrong. Such a part proves nothing when it passes. */
export function standing(runs) {
  const whole = new Set(), told = [];
  for (const run of runs) {
    if (whole.has(run.unit)) continue;
    if (!run.partial) whole.add(run.unit);
    if (!run.partial || run.verdict !== "pass") told.push(run.verdict);
  }
  return worst(told);
}

function run_line(run, build, chosen, choose) {
  const called = `${build_name(build)}, unit ${run.unit || "–"}, ${run.verdict}`;
  const box = h("input", { type: "checkbox", checked: chosen.has(String(run.id)), "aria-label": `Compare run ${run.id}: ${called}`,
                           "data-run": run.id, on: { change: () => choose(run, build, box.checked) } });
  return h("li", { class: "runline" }, h("label", { class: "pick" }, box),
    h("a", { href: route(["runs", run.id]), class: "runlink" }, badge(run.verdict), h("span", { class: "unit" }, run.unit ? `unit ${run.unit}` : "no unit")),
    h("span", { class: "quiet" }, `${run.bench ? `${run.bench}, ` : ""}`, time_of(run.started), `, ${tally(run)}${run.partial ? ", a part of the file" : ""}`));
}

/** The row; `choose(run, build, wanted)` is told of each tick. */
export function build_row(build, chosen, choose) {
  const runs = build.runs ?? [], lines = runs.map((r) => run_line(r, build, chosen, choose)), state = standing(runs);
  const more = lines.slice(shown_runs);
  return h("tr", { "data-build": build.id },
    h("td", { class: "state" }, state ? badge(state) : h("span", { class: "quiet" }, runs.length ? "no whole run" : "no run")),
    h("th", { scope: "row" }, h("span", { class: "name" }, build_name(build)),
      build.version && build.version !== build.name ? h("span", { class: "quiet" }, `version ${build.version}`) : null,
      build.commit && build.commit !== build.name ? h("code", { class: "commit" }, build.commit) : null),
    h("td", { "data-head": "size" }, size(build.size_bytes) || "–"),
    h("td", { "data-head": "first seen" }, time_of(build.first_seen)),
    h("td", { class: "runs" }, h("ul", {}, lines.slice(0, shown_runs)),
      more.length ? h("details", {}, h("summary", {}, count(more.length, "older run")), h("ul", {}, more)) : null));
}
