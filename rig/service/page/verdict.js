// Verdicts and job states as word and shape, never as colour alone.
import { h } from "/page/dom.js";

const signs = { pass: "✓", fail: "✕", unsure: "?", skipped: "–", waiting: "…", running: "▸", stopped: "■", failed: "!" };
const tones = { waiting: "skipped", running: "live", live: "live", none: "none", stopped: "stopped", failed: "fail" };
const severity = ["pass", "skipped", "unsure", "fail"];

/** The class that carries a word's colour; unknown words look like what was skipped. */
export function tone(word) {
  return `v-${tones[word] ?? (severity.includes(word) ? word : "skipped")}`;
}

/** Sign and word. `word` may differ from what is shown, as "broken" for a job that failed. */
export function badge(word, shown = word) {
  return h("span", { class: `badge ${tone(word)}` },
           h("span", { class: "sign", "aria-hidden": "true" }, signs[word] ?? "–"), shown);
}

/** The worst of several verdicts; null of none. */
export function worst(verdicts) {
  let found = null;
  for (const v of verdicts)
    if (severity.includes(v) && (found === null || severity.indexOf(v) > severity.indexOf(found))) found = v;
  return found;
}
