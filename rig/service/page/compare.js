// Two runs side by side: which readings moved farther than both uncertainties allow, even where both pass.
import { ask } from "/page/api.js";
import { fill, h, show } from "/page/dom.js";
import { choice, count, number, quantity, told_apart } from "/page/format.js";
import { build_name, tally, time_of } from "/page/names.js";
import { route } from "/page/router.js";
import { trouble, waiting } from "/page/trouble.js";
import { badge, tone } from "/page/verdict.js";

function card(run, letter) {
  return h("div", { class: `card ${tone(run.verdict)}` }, h("p", { class: "kicker" }, letter),
    h("p", { class: "name" }, h("a", { href: route(["runs", run.id]) }, build_name(run.build))), badge(run.verdict),
    h("p", { class: "quiet" }, `unit ${run.unit || "–"}, bench ${run.bench || "–"}, `, time_of(run.started)), h("p", { class: "quiet" }, `${tally(run)}.`));
}

/** What tells against the comparison: another unit or bench, in plain words, then whatever else differs. */
export function warnings(circumstances) {
  const heavy = {
    unit: (c) => `These are two different units (${c.a} and ${c.b}): a difference may come from the unit, not from the build.`,
    bench: (c) => `These were measured on two different benches (${c.a} and ${c.b}): a difference may come from the bench, not from the build.`,
  };
  const differing = (circumstances ?? []).filter((c) => c.a !== c.b);
  return { plain: differing.filter((c) => heavy[c.what]).map((c) => heavy[c.what](c)), others: differing.filter((c) => !heavy[c.what]) };
}

function moved_text(m) {
  if (typeof m.difference === "string") return m.difference;
  const text = m.difference_text || quantity(m.difference, m.unit);
  return m.difference > 0 && !text.startsWith("+") ? `+${text}` : text;
}

function moved_row(m) {
  const times = m.times_allowed;
  return h("tr", {}, h("th", { scope: "row" }, `${m.check}, ${m.name}`, h("span", { class: "choice" }, choice(m))),
    h("td", { "data-head": "A" }, m.a_text ?? "", " ", badge(m.a_verdict)),
    h("td", { "data-head": "B" }, m.b_text ?? "", " ", badge(m.b_verdict)),
    h("td", { "data-head": "moved" }, h("strong", {}, moved_text(m))),
    h("td", { "data-head": "times what both U allow" }, times === undefined || times === null ? "–" : number(Number(times.toPrecision(3)))));
}

function moved_table(moved) {
  const heads = ["Reading", "A", "B", "Moved by", "Times what both U allow"];
  return h("table", { class: "rows moved" }, h("caption", {}, "Readings that moved"),
    h("thead", {}, h("tr", {}, heads.map((t) => h("th", { scope: "col" }, t)))), h("tbody", {}, moved.map(moved_row)));
}

function line_of(item) {
  if (typeof item === "string") return h("li", {}, item);
  const name = [item.check, item.name].filter(Boolean).join(", "), settings = choice(item);
  const side = (text, verdict) => [text ? ` ${text} ` : " ", verdict ? badge(verdict) : null];
  const from = item.a_verdict || item.b_verdict ? [":", side(item.a_text, item.a_verdict), " then", side(item.b_text, item.b_verdict)] : [];
  return h("li", {}, name + (settings ? ` (${settings})` : ""), from, item.why || item.reason ? `: ${item.why || item.reason}` : "");
}

function rest_list(title, items, open = false) {
  if (!items?.length) return null;
  return h("details", { open }, h("summary", {}, `${title} (${items.length})`), h("ul", {}, items.map(line_of)));
}

function other_circumstances(others) {
  if (!others.length) return null;
  return h("details", { open: true }, h("summary", {}, `What else differs (${others.length})`),
    h("ul", {}, others.map((c) => h("li", {}, `${c.what}: ${c.a || "nothing"} and ${c.b || "nothing"}`))));
}

/** The answer with all its readings named by what differs among them. */
function named(r) {
  const lists = ["moved", "other_verdicts", "not_compared", "only_a", "only_b"], objects = lists.flatMap((l) => r[l] ?? []).filter((i) => typeof i === "object");
  const { items, same } = told_apart(objects), short = new Map(objects.map((o, i) => [o, items[i]]));
  return { ...r, same, ...Object.fromEntries(lists.map((l) => [l, (r[l] ?? []).map((i) => short.get(i) ?? i)])) };
}

function draw(node, answer) {
  const r = named(answer);
  const warn = warnings(r.circumstances), moved = r.moved ?? [], quiet = moved.filter((m) => m.a_verdict === "pass" && m.b_verdict === "pass").length;
  const readings = Array.isArray(r.readings) ? r.readings.length : r.readings;
  const swap = h("a", { href: route(["compare", r.b.id, r.a.id]) }, "The other way round");
  const said = moved.length === 0 ? `None of ${count(readings, "reading")} moved beyond both uncertainties.`
    : `${moved.length} of ${count(readings, "reading")} moved beyond both uncertainties${quiet ? `, ${quiet} of them though ${quiet === 1 ? "it passes" : "they pass"} in both` : ""}.`;
  const chance = r.by_chance > 0 ? ` By chance alone ${r.by_chance < 1 ? "less than 1" : `about ${Math.round(r.by_chance)}`} would.` : "";
  const table = moved_table(moved);
  show(table, moved.length > 0);
  fill(node, h("h1", {}, "What moved"), h("div", { class: "cards" }, card(r.a, "A"), card(r.b, "B")),
    warn.plain.map((w) => h("p", { class: "notice warn", role: "note" }, h("strong", {}, "Mind: "), w)),
    h("p", { class: "lead" }, said + chance), r.same ? h("p", { class: "quiet" }, `All with ${r.same}.`) : null, table,
    rest_list("Other verdicts", r.other_verdicts, true), other_circumstances(warn.others),
    rest_list("Could not be compared", r.not_compared), rest_list("Only in A", r.only_a), rest_list("Only in B", r.only_b),
    h("p", { class: "quiet" }, `A reading has moved if A and B lie farther apart than k times the root sum of squares of their standard uncertainties; k is ${r.coverage_factor ?? 2}.`),
    h("p", { class: "links" }, swap, h("a", { href: "#/builds" }, "All builds")));
}

/** The view of runs A and B. */
export function compare_view({ signal, rest }) {
  const [a, b] = rest, node = h("section", { class: "compare" }, h("h1", {}, "What moved"), waiting());
  async function load() {
    try { draw(node, await ask("/api/compare", { a, b }, signal)); }
    catch (error) { if (error.name !== "AbortError") fill(node, h("h1", {}, "What moved"), trouble(error, load)); }
  }
  load();
  return { title: `Runs ${a} and ${b}`, node };
}
