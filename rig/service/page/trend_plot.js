// A reading over its runs: points with ± U, the tolerance band, and where it has changed.
import { colour_of, h, say } from "/page/dom.js";
import { number, scale_for } from "/page/format.js";

const shapes = ["pass", "fail", "unsure", "skipped"];

/** Points that can be drawn, scaled to a fit unit: {x, value, U, lower, upper, ...point}. */
export function plot_rows(trend) {
  const seen = trend.points.filter((p) => typeof p.value === "number");
  const magnitude = Math.max(0, ...seen.map((p) => Math.abs(p.value)));
  const scale = scale_for(trend.reading?.unit, magnitude), k = trend.coverage_factor ?? 2;
  const scaled = (v) => (typeof v === "number" ? v * scale.factor : null);
  const rows = trend.points.map((p, i) => ({ ...p, x: i + 1, shown: scaled(p.value), U: scaled(k * (p.standard_uncertainty ?? 0)) ?? 0,
                                              from: scaled(p.lower), to: scaled(p.upper) }));
  return { rows, unit: scale.unit, scaled };
}

function extent(rows) {
  const all = rows.flatMap((r) => [r.shown === null ? null : r.shown - r.U, r.shown === null ? null : r.shown + r.U, r.from, r.to]).filter((v) => v !== null);
  let low = Math.min(...all), high = Math.max(...all);
  if (!(high > low)) { low -= 1; high += 1; }
  const margin = 0.08 * (high - low);
  return [low - margin, high + margin];
}

function mark(ctx, verdict, x, y) {
  const r = 4;
  ctx.beginPath();
  if (verdict === "fail") { ctx.rect(x - r, y - r, 2 * r, 2 * r); ctx.fill(); }
  else if (verdict === "pass") { ctx.arc(x, y, r, 0, 2 * Math.PI); ctx.fill(); }
  else { ctx.moveTo(x, y - r - 1); ctx.lineTo(x + r + 1, y); ctx.lineTo(x, y + r + 1); ctx.lineTo(x - r - 1, y); ctx.closePath(); ctx.stroke(); }
}

function points(rows, ink) {
  return (e) => {
    const ctx = e.drawingContext;
    for (const p of e.points) {
      const row = rows[Math.round(p.xval) - 1];
      if (!row || row.shown === null) continue;
      ctx.fillStyle = ctx.strokeStyle = ink[shapes.includes(row.verdict) ? row.verdict : "skipped"];
      ctx.lineWidth = 1.4;
      ctx.beginPath();
      ctx.moveTo(p.canvasx, e.dygraph.toDomYCoord(row.shown + row.U));
      ctx.lineTo(p.canvasx, e.dygraph.toDomYCoord(row.shown - row.U));
      ctx.stroke();
      mark(ctx, row.verdict, p.canvasx, p.canvasy);
    }
  };
}

/** Neighbouring runs with one tolerance: {first, last, from, to} by x. */
export function bands(rows) {
  const out = [];
  for (const r of rows) {
    const now = out[out.length - 1];
    if (now && now.from === r.from && now.to === r.to) now.last = r.x;
    else out.push({ first: r.x, last: r.x, from: r.from, to: r.to });
  }
  return out.filter((b) => b.from !== null || b.to !== null);
}

function draw_bands(ctx, area, g, rows, ink) {
  const inside = (y) => Math.min(area.y + area.h, Math.max(area.y, y));
  for (const b of bands(rows)) {
    const left = g.toDomXCoord(b.first - 0.5), right = g.toDomXCoord(b.last + 0.5);
    const top = b.to === null ? area.y : inside(g.toDomYCoord(b.to)), bottom = b.from === null ? area.y + area.h : inside(g.toDomYCoord(b.from));
    ctx.globalAlpha = 0.45;
    ctx.fillStyle = ink.allowed;
    ctx.fillRect(left, top, right - left, bottom - top);
    ctx.globalAlpha = 1;
    ctx.strokeStyle = ink.guard;
    ctx.setLineDash([5, 4]);
    for (const edge of [b.to === null ? null : top, b.from === null ? null : bottom]) {
      if (edge === null) continue;
      ctx.beginPath(); ctx.moveTo(left, edge); ctx.lineTo(right, edge); ctx.stroke();
    }
  }
}

function draw_changes(ctx, area, g, trend, rows, ink) {
  ctx.setLineDash([]);
  ctx.strokeStyle = ctx.fillStyle = ink.change;
  ctx.lineWidth = 2;
  ctx.font = `12px ${getComputedStyle(document.body).fontFamily}`;
  (trend.change_points ?? []).forEach((c, i) => {
    const row = rows.find((r) => r.run === c.run);
    if (!row) return;
    const x = g.toDomXCoord(row.x - 0.5);
    ctx.beginPath(); ctx.moveTo(x, area.y); ctx.lineTo(x, area.y + area.h); ctx.stroke();
    ctx.beginPath(); ctx.moveTo(x, area.y); ctx.lineTo(x + 7, area.y + 5); ctx.lineTo(x, area.y + 10); ctx.closePath(); ctx.fill();
    ctx.fillText(String(i + 1), x + 10, area.y + 10);
  });
}

/** The library sets labels as markup, so that what the daemon tells is made harmless first. */
function as_markup(text) { const e = document.createElement("i"); e.textContent = text; return e.innerHTML; }

function inks(host) {
  const out = Object.fromEntries(shapes.map((v) => [v, colour_of(host, `ink-${v}`)]));
  for (const name of ["allowed", "guard", "change", "rule"]) out[name] = colour_of(host, `ink-${name}`);
  return out;
}

/** Touch stays with the page: a finger on the plot must be able to scroll. */
function interaction() {
  const model = { ...Dygraph.defaultInteractionModel };
  delete model.touchstart; delete model.touchmove; delete model.touchend;
  return model;
}

/** The library's own legend is never shown, but would measure itself with a style that the page forbids. */
function without_legend() {
  Dygraph.PLUGINS = Dygraph.PLUGINS.filter((p) => p !== Dygraph.Plugins.Legend);
}

/** Draws into `host`, which must be in the page; `readout(row)` is told which point is under the pointer. */
export function draw_plot(host, trend, rows, unit, readout) {
  without_legend();
  const ink = inks(host), label = (v) => rows[Math.round(v) - 1];
  const g = new Dygraph(host, rows.map((r) => [r.x, r.shown]), {
    labels: ["run", "value"], colors: [ink.guard], legend: "never", strokeWidth: 0, plotter: points(rows, ink), connectSeparatedPoints: false,
    dateWindow: [0.4, rows.length + 0.6], valueRange: extent(rows), gridLineColor: ink.rule, axisLineColor: ink.guard, highlightCircleSize: 6,
    interactionModel: interaction(),
    axes: { x: { pixelsPerLabel: 130, axisLabelWidth: 126, axisLabelFormatter: (v) => (Number.isInteger(v) && label(v) ? as_markup(String(label(v).build).slice(0, 18)) : "") },
            y: { pixelsPerLabel: 36, axisLabelWidth: 60, axisLabelFormatter: (v) => number(v) } },
    underlayCallback: (ctx, area, graph) => {
      ctx.save(); ctx.beginPath(); ctx.rect(area.x, area.y, area.w, area.h); ctx.clip();
      draw_bands(ctx, area, graph, rows, ink); draw_changes(ctx, area, graph, trend, rows, ink); ctx.restore();
    },
    highlightCallback: (e, x) => readout(label(x)), unhighlightCallback: () => readout(null),
  });
  let at = -1;
  host.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
    if (!step) return;
    e.preventDefault();
    at = Math.min(rows.length - 1, Math.max(0, at < 0 ? rows.length - 1 : at + step));
    g.setSelection(at);
    readout(rows[at]);
  });
  return g;
}

/** What the plot's marks mean. */
export function legend(unit, k) {
  const key = (cls, text) => h("li", {}, h("span", { class: `key ${cls}`, "aria-hidden": "true" }), text);
  const list = h("ul", { class: "legend" }, key("dot", `reading ± U (${k} u)${unit ? `, in ${unit}` : ""}`), key("square", "fails"), key("diamond", "unsure or skipped"),
    key("band", "within its limits"), key("flag", "it has changed here"));
  return list;
}

/** A line that says what is under the pointer. */
export function readout_line() {
  const line = h("p", { class: "readout", role: "status" });
  return { line, tell: (text) => say(line, text) };
}
