// Keys of one letter can be switched off, for those whose speech input types by accident (WCAG 2.1, 2.1.4).

const key = "cvrig-keys";

/** Whether one-letter keys answer. Escape always stops. */
export function letters_on() { return localStorage.getItem(key) !== "off"; }

export function set_letters(on) { localStorage.setItem(key, on ? "on" : "off"); }

/** True if a key pressed now belongs to a field or a control rather than to the page. */
export function taken_by_control(event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return true;
  return event.target.closest?.("input, select, textarea, button, a, summary, [contenteditable]") !== null;
}
