// Builds as rows with their verdicts. Only what is shown is asked for: 50 at a time.
import { ask } from "/page/api.js";
import { build_row } from "/page/build_row.js";
import { fill, h, say, show } from "/page/dom.js";
import { build_name } from "/page/names.js";
import { route } from "/page/router.js";
import { trouble, waiting } from "/page/trouble.js";

const page_size = 50;

/** Two runs at most, chosen to be compared: a third takes the place of the first. */
function make_choice(node) {
  const chosen = new Map();
  const text = h("p", { role: "status" }), go = h("a", { class: "act" }, "Compare them");
  const clear = h("button", { type: "button", class: "act plain", on: { click: () => { chosen.clear(); draw(); } } }, "Clear");
  const bar = h("div", { class: "choosebar", hidden: true }, text, h("span", { class: "answers" }, go, clear));

  function draw() {
    const all = [...chosen.values()];
    show(bar, all.length > 0);
    show(go, all.length === 2);
    say(text, all.length < 2 ? `${all.map((c) => c.name).join("")}: choose one more run to compare with.` : `${all[0].name} against ${all[1].name}`);
    if (all.length === 2) {
      const [a, b] = all.map((c) => c.id).sort((x, y) => x - y);   // the older run first
      go.setAttribute("href", route(["compare", a, b]));
    }
    for (const box of node.querySelectorAll("input[data-run]")) box.checked = chosen.has(box.dataset.run);
  }
  function choose(run, build, wanted) {
    const id = String(run.id);
    if (!wanted) chosen.delete(id);
    else {
      if (chosen.size === 2) chosen.delete(chosen.keys().next().value);
      chosen.set(id, { id: run.id, name: `${build_name(build)}${run.unit ? ` (unit ${run.unit})` : ""}` });
    }
    draw();
  }
  return { chosen, choose, bar };
}

/** The view. */
export function builds_view({ live, signal }) {
  const body = h("tbody"), state = h("div", {}, waiting()), node = h("section", { class: "builds" });
  const choice = make_choice(node);
  const more = h("button", { type: "button", class: "act", hidden: true, on: { click: () => load(oldest) } }, "Older builds");
  const table = h("table", { class: "rows" }, h("caption", {}, "Builds, newest first"),
    h("thead", {}, h("tr", {}, ["Verdict", "Build", "Size", "First seen", "Runs by unit"].map((t) => h("th", { scope: "col" }, t)))), body);
  fill(node, h("h1", {}, "Builds"), h("p", { class: "lead" }, "A build's verdict is the worst of each unit's newest whole run, and of newer partial ones that found something. Tick two runs to compare them."),
       choice.bar, table, state, more);
  show(table, false);
  let oldest = null;

  const row = (b) => build_row(b, choice.chosen, choice.choose);

  async function load(before) {
    more.disabled = true;
    try {
      const { builds } = await ask("/api/builds", { limit: page_size, before }, signal);
      body.append(...builds.map(row));
      if (builds.length) oldest = builds[builds.length - 1].id;
      fill(state, body.children.length ? null : h("p", { class: "quiet" }, "No build has been proven yet."));
      show(table, body.children.length > 0);
      show(more, builds.length === page_size);
    } catch (error) {
      if (error.name !== "AbortError") fill(state, trouble(error, () => load(before)));
    }
    more.disabled = false;
  }

  /** Puts what has changed since in its place; rows that are only older stay as they are. */
  async function renew() {
    let newest;
    try { newest = (await ask("/api/builds", { limit: 5 }, signal)).builds; } catch { return; }
    for (const build of newest.reverse()) {
      const old = body.querySelector(`tr[data-build="${CSS.escape(String(build.id))}"]`);
      if (old) old.replaceWith(row(build)); else body.prepend(row(build));
    }
    show(table, body.children.length > 0);
    if (body.children.length) fill(state);
  }
  live.on(["filed"], renew, signal);
  live.on(["link"], (e) => { if (e.detail?.back) renew(); }, signal);
  load(null);
  return { title: "Builds", node };
}
