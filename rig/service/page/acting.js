// What needs the token: whether this page may act, and what to say where it may not.
import { tell } from "/page/api.js";
import { fill, h, say, show } from "/page/dom.js";
import { token } from "/page/token.js";

const note = () => document.getElementById("refused");
const readonly = () => document.getElementById("readonly");

/** True if the page has a token. */
export function may_act() { return token() !== ""; }

/** Says at the top of the page whether it is read-only, and how to change that. */
export function tell_whether_acting(stale = false) {
  fill(readonly(), stale ? "Read-only: the daemon has a new token since it started anew. " : "Read-only. ",
       "To act from here, open the address that ", h("code", {}, "cvrig status"), " prints. Stop works all the same.");
  show(readonly(), !may_act());
  document.documentElement.classList.toggle("readonly", !may_act());
}

/** Posts, and shows the daemon's sentence if it refuses; true if it did not. */
export async function act(path, body = {}) {
  try {
    await tell(path, body);
    show(note(), false);
    return true;
  } catch (error) {
    say(note(), error.message);
    show(note(), true);
    if (error.status === 401) tell_whether_acting(true);
    return false;
  }
}
