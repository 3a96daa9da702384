// The token that lets this page act. It comes in the address's fragment, which no server sees, and stays in
// this tab's session storage alone.

const key = "cvrig-token";

/** Takes a token out of the address, if there is one; true if it did. */
export function take_token() {
  const found = /^#(?:.*&)?token=([^&]*)/.exec(location.hash);
  if (!found) return false;
  sessionStorage.setItem(key, decodeURIComponent(found[1]));
  history.replaceState(null, "", "#/bench");
  return true;
}

export function token() { return sessionStorage.getItem(key) ?? ""; }

/** The daemon does not know it: it has started anew since. */
export function forget_token() { sessionStorage.removeItem(key); }
