// Builds elements. Whatever the daemon tells goes through here as text, never as markup.

/** An element; `attributes` may hold `class`, any attribute, and `on` with listeners by event. */
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "on") for (const [event, act] of Object.entries(value)) element.addEventListener(event, act);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(3).filter((c) => c !== null && c !== undefined && c !== false));
  return element;
}

/** Sets text only where it changes, so that live regions and selections stay quiet. */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** Shows or hides. */
export function show(element, wanted) {
  if (element.hidden === wanted) element.hidden = !wanted;
}

/** Replaces all children. */
export function fill(element, ...children) {
  element.replaceChildren(...children.flat(3).filter((c) => c !== null && c !== undefined && c !== false));
}

/** The colour that the style sheet gives a class on this element; canvases need it spelled out. */
export function colour_of(host, name) {
  const probe = h("span", { class: name, hidden: true });
  host.append(probe);
  const found = getComputedStyle(probe).color;
  probe.remove();
  return found;
}
