// How one reading went over the builds: plot, change points and a table with the same numbers.
import { ask } from "/page/api.js";
import { fill, h } from "/page/dom.js";
import { count, number, reading_name } from "/page/format.js";
import { build_name, time_of } from "/page/names.js";
import { reading_search } from "/page/reading_search.js";
import { route } from "/page/router.js";
import { draw_plot, legend, plot_rows, readout_line } from "/page/trend_plot.js";
import { trouble, waiting } from "/page/trouble.js";
import { badge } from "/page/verdict.js";

const table_rows = 100;
let library = null;

/** The plotting library comes when it is first needed: the other views are quicker without. */
function plotting() {
  library ??= new Promise((ready, failed) => {
    document.head.append(h("link", { rel: "stylesheet", href: "/page/dygraph.min.css" }),
      h("script", { src: "/page/dygraph.min.js", on: { load: ready, error: () => failed(new Error("The plotting library does not load.")) } }));
  });
  return library;
}

const with_unit = (v, unit) => (v === null || v === undefined ? "–" : `${number(v)} ${unit ?? ""}`.trim());

function limits_text(r, unit) {
  if (r.from === null && r.to === null) return "no limit";
  if (r.from === null) return `at most ${with_unit(r.to, unit)}`;
  if (r.to === null) return `at least ${with_unit(r.from, unit)}`;
  return `${number(r.from)} to ${with_unit(r.to, unit)}`;
}

function row_text(r, unit) {
  return `${build_name(r.build)}: ${number(r.shown)} ± ${with_unit(Number(r.U.toPrecision(2)), unit)}, ${r.verdict}`;
}

function change_list(trend, rows, unit, scaled) {
  const all = trend.change_points ?? [];
  if (!all.length) return h("p", { class: "quiet" }, "No change stands out from its scatter.");
  const sign = (v) => `${v > 0 ? "+" : ""}${with_unit(v, unit)}`;
  return h("ol", { class: "changes" }, all.map((c) => h("li", {}, "Changed with build ", h("a", { href: route(["runs", c.run]) }, build_name(c.build)),
    `: ${with_unit(scaled(c.before), unit)} before, ${with_unit(scaled(c.after), unit)} after (${sign(scaled(c.difference))}`,
    typeof c.p === "number" ? `; by chance: ${c.p < 0.001 ? "less than 1 in 1000" : `${number(Number((100 * c.p).toPrecision(2)))} %`}).` : ").")));
}

function table_of(rows, unit, k) {
  const body = h("tbody");
  let shown = 0;
  const newest = [...rows].reverse();
  const line = (r) => h("tr", {}, h("th", { scope: "row" }, h("a", { href: route(["runs", r.run]) }, build_name(r.build))), h("td", {}, time_of(r.started)),
    h("td", {}, with_unit(r.shown, unit)), h("td", {}, with_unit(Number(r.U.toPrecision(2)), unit)), h("td", {}, limits_text(r, unit)), h("td", {}, badge(r.verdict)));
  const more = h("button", { type: "button", class: "act small", on: { click: () => grow() } }, "Older runs");
  function grow() {
    body.append(...newest.slice(shown, shown + table_rows).map(line));
    shown = Math.min(newest.length, shown + table_rows);
    more.hidden = shown >= newest.length;
  }
  grow();
  const heads = ["Build", "Started", "Read", `U (${k} u)`, "Limits", "Verdict"];
  return [h("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "The same numbers as a table" }, h("table", { class: "rows numbers" }, h("caption", {}, "The same numbers, newest first"),
    h("thead", {}, h("tr", {}, heads.map((t) => h("th", { scope: "col" }, t)))), body)), more];
}

function draw(node, trend) {
  const { rows, unit, scaled } = plot_rows(trend), k = trend.coverage_factor ?? 2;
  if (rows.length === 0) return fill(node, h("p", { class: "quiet" }, "No run has this reading on that unit and bench."));
  const of = [trend.of?.unit ? `unit ${trend.of.unit}` : "", trend.of?.bench ? `bench ${trend.of.bench}` : ""].filter(Boolean).join(", ");
  const host = h("div", { class: "canvas", tabindex: 0, role: "img", "aria-label": `Plot of ${reading_name(trend.reading)} over ${count(rows.length, "run")}; the table below has the same numbers, the arrow keys go from point to point` });
  const out = readout_line();
  fill(node, h("h2", {}, reading_name(trend.reading)), of ? h("p", { class: "quiet" }, of) : null, legend(unit, k), host, out.line, change_list(trend, rows, unit, scaled), table_of(rows, unit, k));
  const plot = draw_plot(host, trend, rows, unit, (r) => out.tell(r ? row_text(r, unit) : ""));
  return plot;
}

function filters(query, points_of) {
  const go = (name) => (e) => { location.hash = route(["trends"], { ...query, [name]: e.target.value }); };
  const field = (name, text) => h("label", {}, `${text} `, h("input", { type: "text", name, value: query[name] ?? "", placeholder: "newest run's", size: 14, list: `${name}s`, on: { change: go(name) } }),
    h("datalist", { id: `${name}s` }, points_of(name).map((v) => h("option", { value: v }))));
  return h("div", { class: "filters" }, field("unit", "Unit"), field("bench", "Bench"));
}

async function known_places(signal) {
  const { builds } = await ask("/api/builds", { limit: 50 }, signal);
  const runs = builds.flatMap((b) => b.runs ?? []);
  return (name) => [...new Set(runs.map((r) => r[name]).filter(Boolean))].sort();
}

/** The view; the query holds reading, unit, bench and what was looked for. */
export function trend_view({ signal, query, live }) {
  const search = h("div", {}, waiting()), place = h("div"), plot_place = h("div", { class: "trend" });
  const node = h("section", { class: "trends" }, h("h1", {}, "Trends"), search, place, plot_place);
  let plot = null;

  async function load_search() {
    try {
      const { readings } = await ask("/api/readings", {}, signal);
      const href = (r, find) => route(["trends"], { ...query, reading: r.id, find });
      const typed = (find) => history.replaceState(null, "", route(["trends"], { ...query, find }));
      fill(search, reading_search({ readings, words: query.find ?? "", chosen: query.reading, href, typed }));
    } catch (error) { if (error.name !== "AbortError") fill(search, trouble(error, load_search)); }
  }
  async function load_trend() {
    if (!query.reading) return;
    try {
      const trend = await ask("/api/trend", { reading: query.reading, unit: query.unit, bench: query.bench }, signal);
      await plotting();
      if (signal.aborted) return;
      plot?.destroy();
      plot = draw(plot_place, trend) ?? null;
    } catch (error) { if (error.name !== "AbortError") fill(plot_place, trouble(error, load_trend)); }
  }
  known_places(signal).then((known) => fill(place, filters(query, known)), () => {});
  live.on(["filed"], load_trend, signal);
  document.addEventListener("cvrig-theme", load_trend, { signal });
  signal.addEventListener("abort", () => plot?.destroy());
  load_search();
  return { title: "Trends", node, shown: load_trend };
}
