// A level meter for each jack: peak and RMS in volts against full scale, and the highest peak of the last seconds.
import { fill, h, say, show } from "/page/dom.js";
import { volts } from "/page/format.js";

const hold_ms = 3000, near_full = 0.985;

function make_meter(way, jack) {
  const bar = h("span", { class: "bar peak" }), rms = h("span", { class: "bar rms" }), held = h("span", { class: "held" });
  const scale = h("div", { class: "scale", role: "meter", "aria-label": `${jack}, ${way}`, "aria-valuemin": 0 }, bar, rms, held);
  const value = h("span", { class: "value" }), full = h("span", { class: "full" });
  const node = h("li", { class: "meter" }, h("span", { class: "jack" }, jack), scale, value, full);
  let top = 0, top_at = 0;

  function update(m) {
    const now = performance.now(), share = (v) => Math.min(1, Math.max(0, Math.abs(v) / (m.full_v || 1)));
    if (share(m.peak_v) >= top || now - top_at > hold_ms) { top = share(m.peak_v); top_at = now; }
    bar.style.transform = `scaleX(${share(m.peak_v)})`;
    rms.style.transform = `scaleX(${share(m.rms_v)})`;
    held.style.left = `${100 * top}%`;
    const over = way === "in" && top >= near_full;   // a control voltage may well reach its limit
    scale.classList.toggle("over", over);
    scale.setAttribute("aria-valuemax", m.full_v);
    scale.setAttribute("aria-valuenow", Math.abs(m.peak_v).toFixed(3));
    scale.setAttribute("aria-valuetext", `peak ${volts(m.peak_v)}, RMS ${volts(m.rms_v)} of ${volts(m.full_v)}${over ? ", at full scale" : ""}`);
    say(value, volts(Math.abs(m.peak_v)));
    say(full, over ? "full!" : `of ${m.full_v} V`);
  }
  return { node, update };
}

/** All meters of the bench, grouped by their way; `update(meters)`. */
export function meter_panel() {
  const out = h("ul", { class: "meters" }), into = h("ul", { class: "meters" });
  const groups = { out: h("div", {}, h("h3", {}, "Out, to the module"), out), in: h("div", {}, h("h3", {}, "In, from the module"), into) };
  const empty = h("p", { class: "quiet" }, "Nothing sounds.");
  const node = h("section", { class: "levels", "aria-label": "Levels" }, h("h2", {}, "Levels"), empty, groups.out, groups.in);
  let known = "", all = new Map();

  function rebuild(meters) {
    all = new Map(meters.map((m) => [`${m.way} ${m.jack}`, make_meter(m.way, m.jack)]));
    for (const [list, way] of [[out, "out"], [into, "in"]])
      fill(list, meters.filter((m) => m.way === way).map((m) => all.get(`${m.way} ${m.jack}`).node));
  }

  function update(meters) {
    const list = meters ?? [], names = JSON.stringify(list.map((m) => [m.way, m.jack]));
    if (names !== known) { known = names; rebuild(list); }
    for (const m of list) all.get(`${m.way} ${m.jack}`).update(m);
    show(empty, list.length === 0);
    for (const way of ["out", "in"]) show(groups[way], list.some((m) => m.way === way));
  }
  update([]);
  return { node, update };
}
