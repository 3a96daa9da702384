// The one word for what is going on, readable at two metres, and the lines around it.

const running = {
  building: "Building", flashing: "Flashing", proving: "Proving", playing: "Playing",
  judging: "Judging", asking: "Your turn",
};
const verdicts = { pass: "Pass", fail: "Fail", unsure: "Unsure", skipped: "Skipped" };
const about = {
  building: "The image is being built.",
  flashing: "The image goes onto the module.",
  proving: "The bench proves itself and its cables before it judges a module.",
  judging: "What was recorded is being measured.",
  asking: "The rig waits for you.",
};

/** The run that ended last; a job that was taken out while it waited never ran. */
function last_ended(jobs) {
  const ran = (jobs ?? []).filter((j) => ["done", "stopped", "failed"].includes(j.state) && j.attempts !== 0);
  return ran.reduce((last, j) => (last && (last.ended ?? "") >= (j.ended ?? "") ? last : j), null);
}

function idle(jobs) {
  const job = last_ended(jobs);
  if (!job) return { word: "Idle", tone: "skipped", kicker: "Nothing to do", line: "The rig waits for an image." };
  const named = { job, kicker: "Idle. The last run said", line: job.why ?? "" };
  if (verdicts[job.verdict]) return { ...named, word: verdicts[job.verdict], tone: job.verdict };
  if (job.state === "stopped") return { ...named, word: "Stopped", tone: "stopped" };
  return { ...named, word: "No verdict", tone: "unsure" };
}

/** {word, tone, kicker, line, job}: `tone` names the colour, `job` what it is about (or null). */
export function headline({ bench, jobs, stopping, lost }) {
  if (!bench) return { word: lost ? "No connection" : "…", tone: "none", kicker: "", line: "", job: null };
  const now = settled({ bench, jobs, stopping });
  if (!lost) return now;
  return { ...now, word: "No connection", tone: "none", kicker: `Before that: ${now.word}` };
}

function settled({ bench, jobs, stopping }) {
  const job = bench.job ?? null;
  if (stopping) return { word: "Stopping", tone: "stopped", kicker: "Stop was pressed", line: "", job };
  if (bench.state !== "idle") {
    const line = bench.plays || about[bench.state] || "";
    return { word: running[bench.state] ?? bench.state, tone: bench.state === "asking" ? "unsure" : "live",
             kicker: bench.attempt > 1 ? `Taken again, attempt ${bench.attempt}` : "Now", line, job };
  }
  if (bench.held)
    return { word: "Held", tone: "stopped", kicker: "The queue stands still until you resume it", line: bench.why_held ?? "", job };
  return { job: null, ...idle(jobs) };
}

/** "build good, unit 7": whatever of it is known. */
export function subject(job) {
  if (!job) return "";
  const parts = [];
  if (job.build) parts.push(`build ${job.build}`);
  else if (job.image) parts.push(job.image.split("/").pop());
  if (job.unit) parts.push(`unit ${job.unit}`);
  return parts.join(", ");
}

/** Take and time: {fraction, take, left}; null when nothing plays. */
export function progress(bench, elapsed_s) {
  if (!bench || !(bench.takes > 0) || bench.state === "idle") return null;
  const counts = bench.state === "playing" ? elapsed_s : 0;
  const left = Math.max(0, (bench.left_s ?? 0) - counts);
  const planned = bench.planned_s ?? 0;
  const played = Math.min(planned, (bench.played_s ?? 0) + counts);
  return { fraction: planned > 0 ? played / planned : 0, take: bench.take, takes: bench.takes, left_s: left };
}
