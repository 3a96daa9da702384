// What the daemon last said, for every view. Views listen for bench, levels, queue, filed, link and stopping.
import { ask } from "/page/api.js";
import { follow } from "/page/stream.js";

const told = ["bench", "levels", "queue", "filed"];

export class Live extends EventTarget {
  bench = null;          // last snapshot, without levels
  bench_at = 0;          // when it came, by performance.now()
  levels = null;
  jobs = null;
  lost_since = null;     // Date, while there is no connection
  stopping = false;      // Stop was pressed here, and the daemon has not said yet that it stopped

  /** Begins to listen. The first answers come by GET, so that something shows even before events flow. */
  start() {
    ask("/api/bench").then((b) => this.take("bench", b), () => {});
    ask("/api/queue").then((q) => this.take("queue", q), () => {});
    follow("/api/events", {
      on_open: () => this.set_link(null),
      on_event: (e) => { if (told.includes(e.name)) this.take(e.name, JSON.parse(e.data)); },
      on_closed: () => this.set_link(this.lost_since ?? new Date()),
    });
  }

  /** Takes what the daemon said about one thing. */
  take(name, value) {
    if (name === "bench") this.take_bench(value);
    else if (name === "levels") this.levels = value;
    else if (name === "queue") this.jobs = value.jobs ?? [];
    this.dispatchEvent(new CustomEvent(name, { detail: value }));
  }

  take_bench(value) {
    this.bench = value;
    this.bench_at = performance.now();
    if (value.meters) this.take("levels", { meters: value.meters, trace: value.trace });
    if (this.stopping && value.state === "idle") this.set_stopping(false);
  }

  set_stopping(on) {
    if (this.stopping === on) return;
    this.stopping = on;
    this.dispatchEvent(new CustomEvent("stopping"));
  }

  set_link(lost_since) {
    if (String(this.lost_since) === String(lost_since)) return;
    const back = this.lost_since !== null && lost_since === null;
    this.lost_since = lost_since;
    this.dispatchEvent(new CustomEvent("link", { detail: { back } }));
  }

  /** Listens until `signal` is aborted. */
  on(names, act, signal) {
    for (const name of names) this.addEventListener(name, act, { signal });
  }
}
