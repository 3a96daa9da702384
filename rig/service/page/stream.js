// Server-sent events over fetch: unlike the browser's own reader this sees the comment lines that come every
// 15 s, so that a daemon which hangs is told from one that has nothing to say.

/** Splits a stream's text into events; `push(text)` returns those that are complete. */
export function event_parser() {
  let rest = "", name = "", data = [];
  function line(text, out) {
    if (text === "") {
      if (data.length) out.push({ name: name || "message", data: data.join("\n") });
      name = ""; data = [];
    } else if (text.startsWith("event:")) name = text.slice(6).trim();
    else if (text.startsWith("data:")) data.push(text.slice(5).replace(/^ /, ""));
  }
  return {
    push(text) {
      const out = [], lines = (rest + text).split(/\r\n|\n|\r(?!$)/);
      rest = lines.pop();
      for (const l of lines) line(l, out);
      return out;
    },
  };
}

const silence_ms = 40000;   // two and a half of the daemon's comment lines

/** Resolves when the page can be seen. */
async function seen() {
  while (document.hidden) await new Promise((resume) => document.addEventListener("visibilitychange", resume, { once: true }));
}

async function read_once(path, on_open, on_event) {
  const stop = new AbortController();
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop.abort(); }, { signal: stop.signal });
  let watchdog = setTimeout(() => stop.abort(), silence_ms);
  try {
    const response = await fetch(path, { signal: stop.signal, cache: "no-store", headers: { Accept: "text/event-stream" } });
    if (!response.ok) return;
    on_open();
    const parser = event_parser(), text = new TextDecoder(), reader = response.body.getReader();
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      clearTimeout(watchdog);
      watchdog = setTimeout(() => stop.abort(), silence_ms);
      for (const event of parser.push(text.decode(value, { stream: true }))) on_event(event);
    }
  } catch { /* a broken connection is the loop's business */ }
  finally { clearTimeout(watchdog); stop.abort(); }
}

/** How long to wait before the nth try: 0.5 s, 1 s, 2 s ... at most 10 s. */
export function wait_ms(nth) { return Math.min(10000, 500 * 2 ** nth); }

/** Reads events for ever; `on_closed(ms)` says in how many ms it tries again. A page that nobody sees lets go of its
    connection: browsers allow six to one host, and Stop needs one in the page that is seen. */
export async function follow(path, { on_open, on_event, on_closed }) {
  for (let failed = 0; ; failed += 1) {
    await seen();
    await read_once(path, () => { failed = 0; on_open(); }, on_event);
    if (document.hidden) continue;
    const pause = wait_ms(failed);
    on_closed(pause);
    await new Promise((resume) => setTimeout(resume, pause));
  }
}
