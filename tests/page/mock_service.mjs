// Stands in for the daemon where a state is hard to reach with the real one: an operator's question, a lost
// connection, 100,000 runs, hostile names. By hand: node mock_service.mjs 8123
import { readFile } from "node:fs/promises";
import { createServer } from "node:http";
import { fileURLToPath } from "node:url";
import * as told from "./fixtures.mjs";

const page = fileURLToPath(new URL("../../rig/service/page/", import.meta.url));
const library = "/usr/share/javascript/dygraphs/";
const kinds = { html: "text/html; charset=utf-8", js: "text/javascript; charset=utf-8", css: "text/css; charset=utf-8", svg: "image/svg+xml" };

async function send_file(response, path) {
  const body = await readFile(path).catch(() => null);
  if (body === null) return response.writeHead(404).end();
  response.writeHead(200, { "Content-Type": kinds[path.split(".").pop()], "Content-Security-Policy": "default-src 'self'", "X-Content-Type-Options": "nosniff" });
  response.end(body);
}

function send_json(response, body, status = 200) {
  response.writeHead(status, { "Content-Type": "application/json" });
  response.end(JSON.stringify(body));
}

export class Mock {
  token = "t0ken";
  bench = told.bench();
  levels = told.levels();
  queue = told.queue;
  builds = told.builds;
  run = told.run_detail;
  compared = told.comparison();
  readings = told.readings;
  trend = told.trend();
  posts = [];          // {path, body, token}
  asked = [];          // paths of every GET under /api
  refuses_stop = false;
  stop_delay_ms = 0;
  #streams = new Set();
  #server = createServer((request, response) => this.#serve(request, response));

  async start(port = 0) {
    await new Promise((ready) => this.#server.listen(port, "127.0.0.1", ready));
    this.port = this.#server.address().port;
    this.url = `http://127.0.0.1:${this.port}`;
    return this;
  }

  /** Goes away as a daemon does that is killed; `start(port)` brings it back. */
  async stop() {
    if (!this.#server.listening) return;
    const closed = new Promise((done) => this.#server.close(done));
    this.#server.closeAllConnections();
    this.#streams.clear();
    await closed;
    this.#server = createServer((request, response) => this.#serve(request, response));
  }

  /** Tells an event to every page. */
  tell(name, data) { for (const s of this.#streams) s.write(`event: ${name}\ndata: ${JSON.stringify(data)}\n\n`); }

  set_bench(over) { this.bench = told.bench(over); this.tell("bench", this.bench); }
  get listeners() { return this.#streams.size; }

  async #serve(request, response) {
    const at = new URL(request.url, this.url);
    if (request.method === "POST") return this.#post(request, response, at.pathname);
    if (at.pathname === "/") return send_file(response, `${page}index.html`);
    if (/^\/page\/dygraph\.min\.(js|css)$/.test(at.pathname)) return send_file(response, library + at.pathname.slice(6));
    if (/^\/page\/[a-z_]+\.(js|css|svg)$/.test(at.pathname)) return send_file(response, page + at.pathname.slice(6));
    if (at.pathname === "/api/events") return this.#events(request, response);
    this.asked.push(request.url);
    return this.#api(at, response);
  }

  #api(at, response) {
    const part = at.pathname.split("/");
    if (at.pathname === "/api/bench") return send_json(response, { ...this.bench, ...this.levels });
    if (at.pathname === "/api/queue") return send_json(response, this.queue);
    if (at.pathname === "/api/builds") return send_json(response, { builds: this.#builds(at.searchParams) });
    if (part[2] === "runs" && part.length === 4) return String(this.run.run.id) === part[3] ? send_json(response, this.run) : send_json(response, { error: `There is no run ${part[3]}.` }, 404);
    if (at.pathname === "/api/compare") return send_json(response, this.compared);
    if (at.pathname === "/api/readings") return send_json(response, { readings: this.readings });
    if (at.pathname === "/api/trend") return send_json(response, this.trend);
    if (/^\/runs\/\d+\/report\.html$/.test(at.pathname)) return response.writeHead(200, { "Content-Type": kinds.html }).end("<h1>Report</h1>");
    return send_json(response, { error: "There is nothing here." }, 404);
  }

  #builds(query) {
    const limit = Number(query.get("limit") ?? 50), before = Number(query.get("before") ?? Infinity);
    if (typeof this.builds === "function") return this.builds(limit, before);
    return this.builds.filter((b) => b.id < before).slice(0, limit);
  }

  #events(request, response) {
    response.writeHead(200, { "Content-Type": "text/event-stream", "Cache-Control": "no-store" });
    this.#streams.add(response);
    request.on("close", () => this.#streams.delete(response));
    for (const [name, data] of [["bench", this.bench], ["levels", this.levels], ["queue", this.queue]])
      response.write(`event: ${name}\ndata: ${JSON.stringify(data)}\n\n`);
  }

  async #post(request, response, path) {
    let text = "";
    for await (const chunk of request) text += chunk;
    this.posts.push({ path, body: JSON.parse(text || "{}"), token: request.headers["x-cvrig-token"] ?? null, kind: request.headers["content-type"] });
    if (request.headers["content-type"] !== "application/json") return send_json(response, { error: "Say application/json." }, 415);
    if (path === "/api/stop") return this.#stopped(response);
    if (request.headers["x-cvrig-token"] !== this.token) return send_json(response, { error: "This needs the token that cvrig status prints." }, 401);
    if (path === "/api/resume") this.set_bench({ ...this.bench, held: false, why_held: "" });
    return send_json(response, {});
  }

  async #stopped(response) {
    await new Promise((later) => setTimeout(later, this.stop_delay_ms));
    if (this.refuses_stop) return send_json(response, { error: "The run does not end." }, 500);
    send_json(response, {});
    this.set_bench({ ...this.bench, state: "idle", held: true, why_held: "Stopped from the page.", asks: null, job: null });
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const mock = await new Mock().start(Number(process.argv[2] ?? 8123));
  console.log(`${mock.url}/#token=${mock.token}`);
  let phase = 0;
  setInterval(() => mock.tell("levels", told.levels(240, phase += 3)), 100);
}
