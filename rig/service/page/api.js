// The daemon's HTTP interface: JSON out, JSON in, a sentence if it refuses.
import { forget_token, token } from "/page/token.js";

/** What the daemon refused, in its own words. `status` is 0 if it could not be reached. */
export class Refused extends Error {
  constructor(status, sentence) { super(sentence); this.status = status; }
}

async function answer_of(request) {
  let response;
  try { response = await request; }
  catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, "The rig's daemon does not answer.");
  }
  const text = await response.text();
  let body = {};
  try { body = text ? JSON.parse(text) : {}; } catch { /* an answer without JSON is told by its status */ }
  if (response.ok) return body;
  if (response.status === 401) forget_token();
  throw new Refused(response.status, body.error || `The daemon refused this (HTTP ${response.status}).`);
}

/** GET; `query` leaves out what is empty. */
export function ask(path, query = {}, signal = undefined) {
  const kept = Object.entries(query).filter(([, v]) => v !== "" && v !== null && v !== undefined);
  const tail = kept.length ? `?${new URLSearchParams(kept)}` : "";
  return answer_of(fetch(path + tail, { signal, cache: "no-store" }));
}

/** POST with the token, if there is one. */
export function tell(path, body = {}, options = {}) {
  const headers = { "Content-Type": "application/json" };
  if (token()) headers["X-Cvrig-Token"] = token();
  return answer_of(fetch(path, { method: "POST", headers, body: JSON.stringify(body), cache: "no-store", ...options }));
}
