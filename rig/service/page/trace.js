// What goes out and comes back now: one lane for each channel, least and greatest value of each column.
import { colour_of, h, say, show } from "/page/dom.js";
import { number, volts } from "/page/format.js";

const calm_ms = 1000;   // with reduced motion
const label_width = 76;

function lane_range(channel, meters) {
  const full = meters?.find((m) => m.jack === channel.jack && m.way === channel.way)?.full_v;
  const low = Math.min(0, ...channel.low), high = Math.max(0, ...channel.high);
  const reach = Math.max(Math.abs(low), Math.abs(high), 0.02 * (full ?? 1), 1e-3);
  return low < -0.05 * reach ? [-1.08 * reach, 1.08 * reach] : [-0.12 * reach, 1.08 * reach];
}

function draw_lane(ctx, channel, range, box, ink) {
  const y = (v) => box.y + box.h * (range[1] - v) / (range[1] - range[0]);
  ctx.fillStyle = ink.rule;
  ctx.fillRect(box.x, Math.round(y(0)), box.w, 1);
  ctx.fillStyle = channel.way === "out" ? ink.out : ink.in;
  const n = channel.low.length, step = box.w / Math.max(1, n);
  let before = null;
  for (let i = 0; i < n; i += 1) {
    let top = y(channel.high[i]), bottom = y(channel.low[i]);
    if (before !== null) { top = Math.min(top, before.bottom); bottom = Math.max(bottom, before.top); }
    before = { top: y(channel.high[i]), bottom: y(channel.low[i]) };
    ctx.fillRect(box.x + i * step, top, Math.max(1, step), Math.max(1.5, bottom - top));
  }
}

/** Jack and way, and the highest voltage, left of the lane. */
function label_lane(ctx, channel, box, ink) {
  ctx.fillStyle = ink.text;
  ctx.textBaseline = "middle";
  ctx.textAlign = "left";
  ctx.fillText(`${channel.jack} ${channel.way}`, 0, box.y + box.h / 2 - 8, label_width - 6);
  ctx.fillStyle = ink.soft;
  ctx.fillText(`to ${volts(Math.max(0, ...channel.high))}`, 0, box.y + box.h / 2 + 9, label_width - 6);
}

/** The live trace; `update(trace, meters)`. */
export function trace_panel() {
  const canvas = h("canvas", { class: "trace", role: "img", "aria-label": "Trace" });
  const spanned = h("p", { class: "axis" }), empty = h("p", { class: "quiet" }, "Nothing is played or recorded.");
  const node = h("section", { class: "traces", "aria-label": "Trace" }, h("h2", {}, "Trace"), empty, canvas, spanned);
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  let latest = null, meters = null, asked = false, drawn_at = 0;

  function draw() {
    asked = false;
    drawn_at = performance.now();
    const channels = latest?.channels ?? [];
    const ratio = devicePixelRatio || 1, lane = 56, width = canvas.clientWidth, height = Math.max(1, channels.length) * lane;
    if (width === 0) return;
    canvas.style.height = `${height}px`;
    if (canvas.width !== Math.round(width * ratio)) canvas.width = Math.round(width * ratio);
    if (canvas.height !== Math.round(height * ratio)) canvas.height = Math.round(height * ratio);
    const ctx = canvas.getContext("2d");
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    ctx.clearRect(0, 0, width, height);
    ctx.font = `12px ${getComputedStyle(canvas).fontFamily}`;
    const ink = { rule: colour_of(node, "ink-rule"), out: colour_of(node, "ink-out"), in: colour_of(node, "ink-in"), 
                  text: colour_of(node, "ink-text"), soft: colour_of(node, "ink-skipped") };
    channels.forEach((c, i) => {
      const box = { x: label_width, y: i * lane + 2, w: width - label_width, h: lane - 6 };
      draw_lane(ctx, c, lane_range(c, meters), box, ink);
      label_lane(ctx, c, box, ink);
    });
  }

  function ask_for_draw() {
    if (asked) return;
    asked = true;
    const wait = calm.matches ? Math.max(0, calm_ms - (performance.now() - drawn_at)) : 0;
    if (wait > 0) setTimeout(draw, wait); else requestAnimationFrame(draw);
  }

  function update(trace, levels) {
    latest = trace ?? latest;
    meters = levels ?? meters;
    const channels = latest?.channels ?? [];
    show(canvas, channels.length > 0);
    show(empty, channels.length === 0);
    if (channels.length === 0) return say(spanned, "");
    say(spanned, `the last ${number(latest.span_s)} s, each lane to its own height`);
    canvas.setAttribute("aria-label", `Trace of the last ${number(latest.span_s)} s: ${channels.map((c) => `${c.jack} ${c.way}`).join(", ")}`);
    ask_for_draw();
  }
  const resized = new ResizeObserver(ask_for_draw);
  resized.observe(canvas);
  return { node, update, close: () => resized.disconnect() };
}
