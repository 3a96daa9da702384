// Finds a reading among all that the history knows, by words in any order.
import { fill, h, say } from "/page/dom.js";
import { count, reading_name, told_apart } from "/page/format.js";

const most = 12;

/** Readings whose name holds every word, in the history's order. */
export function matching(readings, words) {
  const wanted = words.toLowerCase().split(/[\s,()]+/).filter(Boolean);
  return readings.filter((r) => { const name = reading_name(r).toLowerCase(); return wanted.every((w) => name.includes(w)); });
}

/** Readings of one check and name together. */
function alike(readings) {
  const groups = new Map();
  for (const r of readings) {
    const name = `${r.check}, ${r.name}`;
    groups.set(name, [...(groups.get(name) ?? []), r]);
  }
  return [...groups.values()];
}

/** Search box and hits; `href(reading)` says where a hit leads, `typed(words)` is told what is looked for. */
export function reading_search({ readings, words, chosen, href, typed }) {
  const box = h("input", { type: "search", id: "find", autocomplete: "off", spellcheck: "false", value: words, placeholder: "tracking worst tied" });
  const named = new Map(alike(readings).flatMap((group) => told_apart(group).items).map((r) => [r.id, reading_name(r)]));
  const hits = h("ul", { class: "hits" }), found = h("p", { class: "quiet", role: "status" });
  function draw() {
    // Once a reading is chosen, its plot needs the room, until somebody looks for another.
    const rests = chosen && !box.value && document.activeElement !== box;
    const all = rests ? [] : matching(readings, box.value);
    fill(hits, all.slice(0, most).map((r) => h("li", {}, h("a", { href: href(r, box.value), "aria-current": String(r.id) === chosen ? "true" : null },
      named.get(r.id)))));
    say(found, !readings.length ? "The history holds no reading yet; they come with the first run."
      : rests ? `${count(readings.length, "reading")}; type to look for another.`
      : all.length > most ? `${count(all.length, "reading")}; the first ${most} are shown, type more to narrow it down.` : `${count(all.length, "reading")}.`);
  }
  box.addEventListener("focus", draw);
  box.addEventListener("input", () => { draw(); typed(box.value); });
  draw();
  return h("div", { class: "search", role: "search" }, h("label", { for: "find" }, "Which reading?"), box, found, hits);
}
