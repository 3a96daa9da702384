// What a view shows while it waits for the daemon, and when an answer does not come.
import { h } from "/page/dom.js";

/** A line that says that something is on its way. */
export function waiting() { return h("p", { class: "quiet", role: "status" }, "Asking."); }

/** Why there is nothing to show, and a button to ask once more. */
export function trouble(error, again) {
  return h("div", { class: "trouble", role: "alert" }, h("p", {}, error.message),
           again ? h("button", { type: "button", class: "act", on: { click: again } }, "Ask again") : null);
}
