// One run: its verdict, and every finding by check.
import { ask } from "/page/api.js";
import { fill, h, show } from "/page/dom.js";
import { choice, count, quantity, told_apart } from "/page/format.js";
import { build_name, run_name, tally, time_of } from "/page/names.js";
import { route } from "/page/router.js";
import { trouble, waiting } from "/page/trouble.js";
import { badge, tone, worst } from "/page/verdict.js";

const words = { pass: "Pass", fail: "Fail", unsure: "Unsure", skipped: "Skipped" };

/** What was read: the daemon's text, else the answer, else value and unit. */
export function read_text(f) {
  return f.text || f.answer || quantity(f.value, f.unit);
}

function finding_row(f) {
  const name = choice(f);
  const row = h("tr", { class: f.reason ? "has-reason" : null, "data-verdict": f.verdict },
    h("th", { scope: "row" }, f.name, name ? h("span", { class: "choice" }, name) : null),
    h("td", { class: "state" }, badge(f.verdict)),
    h("td", { "data-head": "read" }, read_text(f) || "–"),
    h("td", { "data-head": "limit" }, f.limit || "–"),
    h("td", { class: "trendcell" }, h("a", { href: route(["trends"], { find: `${f.check} ${f.name}` }) }, "trend",
      h("span", { class: "aloud" }, ` of ${f.check}, ${f.name}`))));
  return f.reason ? [row, h("tr", { class: "reason", "data-verdict": f.verdict }, h("td", { colspan: 5 }, f.reason))] : [row];
}

function check_section(check, all) {
  const { items: findings, same } = told_apart(all);
  const heads = ["Finding", "Verdict", "Read", "Limit", "Before"];
  return h("section", { class: "check", "data-verdict": worst(findings.map((f) => f.verdict)) ?? "skipped" },
    h("h2", {}, check, badge(worst(findings.map((f) => f.verdict)) ?? "skipped")),
    same ? h("p", { class: "quiet" }, `With ${same}.`) : null,
    h("table", { class: "rows findings" }, h("caption", {}, `Findings of ${check}`),
      h("thead", {}, h("tr", {}, heads.map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, findings.map(finding_row))));
}

/** Findings by check, in the order in which they come. */
export function by_check(findings) {
  const groups = new Map();
  for (const f of findings) {
    if (!groups.has(f.check)) groups.set(f.check, []);
    groups.get(f.check).push(f);
  }
  return [...groups];
}

function facts(run, module) {
  const build = run.build ?? {};
  const list = [["Module", module], ["Build", build_name(build)], ["Commit", build.commit], ["Unit", run.unit], ["Bench", run.bench]]
    .filter(([, v]) => v);
  return h("dl", { class: "facts" }, list.map(([t, v]) => h("div", {}, h("dt", {}, t), h("dd", {}, v))),
           h("div", {}, h("dt", {}, "Started"), h("dd", {}, time_of(run.started))));
}

function draw(node, body) {
  const { run } = body, findings = body.findings ?? [], open = findings.filter((f) => f.verdict !== "pass").length;
  const list = h("div", { class: "checks" }, by_check(findings).map(([check, all]) => check_section(check, all)));
  const only = h("input", { type: "checkbox", id: "only", on: { change: () => list.classList.toggle("only", only.checked) } });
  const filter = h("p", { class: "filter" }, h("label", { for: "only" }, only, ` Only the ${count(open, "finding")} that did not pass`));
  show(filter, open > 0 && open < findings.length);
  fill(node, h("div", { class: `top ${tone(run.verdict)}` }, h("p", { class: "kicker" }, `Run ${run.id}`),
      h("h1", {}, h("span", { class: "headline" }, words[run.verdict] ?? run.verdict), h("span", { class: "about" }, run_name(run))),
      h("p", { class: "tally" }, `${tally(run)}.`)),
    facts(run, body.module ?? run.module),
    h("p", { class: "links" }, run.report === false ? h("span", { class: "quiet" }, "The full report is not there any more.")
      : h("a", { class: "act", href: `/runs/${encodeURIComponent(run.id)}/report.html` }, "Full report"),
      h("a", { href: "#/builds" }, "All builds")),
    filter, list);
}

/** The view of the run with this number. */
export function run_view({ signal, rest }) {
  const node = h("section", { class: "run" }, h("h1", {}, `Run ${rest[0]}`), waiting());
  async function load() {
    try { draw(node, await ask(`/api/runs/${encodeURIComponent(rest[0])}`, {}, signal)); }
    catch (error) { if (error.name !== "AbortError") fill(node, h("h1", {}, `Run ${rest[0]}`), trouble(error, load)); }
  }
  load();
  return { title: `Run ${rest[0]}`, node };
}
