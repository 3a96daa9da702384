// The real daemon, with the demo's module on a bench without hardware, in a folder of its own.
import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { delimiter, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL(".", import.meta.url));
const programs = process.env.CVRIG_PROGRAMS ?? join(here, "../../build/bin");

/** Why the daemon cannot be run here; empty if it can. */
export const missing = existsSync(join(programs, "cvrig")) && existsSync(join(programs, "ferrule")) ? "" : `no cvrig and ferrule in ${programs}`;

export class Daemon {
  folder = mkdtempSync(join(tmpdir(), "cvrig-page-"));
  #environment = { ...process.env, PATH: `${programs}${delimiter}${process.env.PATH}`, XDG_RUNTIME_DIR: this.folder, XDG_DATA_HOME: this.folder };
  #child = null;

  /** Starts it at that port (0: any that is free) and waits until it tells its page. */
  async start(port = 0) {
    spawnSync(join(programs, "ferrule"), ["link", join(here, "../../demo/builds"), join(this.folder, "firmware")]);
    this.#child = spawn(join(programs, "cvrig"), ["serve", join(here, "short.expectations.yaml"), "--bench", join(here, "slow.bench.yaml"), "--unit", "7", "--port", String(port),
      "--history", join(this.folder, "history.sqlite"), "--reports", join(this.folder, "reports")], { cwd: this.folder, env: this.#environment });
    let text = "";
    const page = await new Promise((found, failed) => {
      const read = (part) => { text += part; const at = /http:\/\/127\.0\.0\.1:(\d+)\/#token=(\S+)/.exec(text); if (at) found(at); };
      this.#child.stdout.on("data", read);
      this.#child.stderr.on("data", read);
      this.#child.on("exit", () => failed(new Error(`The daemon has ended: ${text}`)));
    });
    [, this.port, this.token] = page;
    this.url = `http://127.0.0.1:${this.port}`;
    return this;
  }

  /** Asks for a run of one of the demo's builds. */
  async submit(name) {
    const response = await fetch(`${this.url}/api/jobs`, { method: "POST", headers: { "Content-Type": "application/json", "X-Cvrig-Token": this.token },
      body: JSON.stringify({ image: join(this.folder, "firmware", `${name}.hex`), build: name }) });
    return (await response.json()).id;
  }

  async ask(path) { return (await fetch(this.url + path)).json(); }

  /** Waits until no job waits or runs. */
  async settled() {
    for (let i = 0; i < 600; i += 1) {
      const { jobs } = await this.ask("/api/queue");
      if (jobs.every((j) => !["waiting", "running"].includes(j.state))) return jobs;
      await new Promise((later) => setTimeout(later, 100));
    }
    throw new Error("the queue does not end");
  }

  /** SIGKILL, as a crash would. */
  async kill(signal = "SIGKILL") {
    const ended = new Promise((done) => this.#child.on("exit", done));
    this.#child.kill(signal);
    await ended;
  }

  async end() {
    if (this.#child.exitCode === null && this.#child.signalCode === null) await this.kill("SIGTERM");
    rmSync(this.folder, { recursive: true, force: true, maxRetries: 5 });
  }

}
