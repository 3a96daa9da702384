// How builds and runs are called.
import { h } from "/page/dom.js";
import { when } from "/page/format.js";

/** A build's name, else its version, else the beginning of its hash. */
export function build_name(build) {
  if (typeof build === "string") return build;
  return build?.called || build?.name || build?.version || build?.sha256?.slice(0, 12) || "no name";
}

/** "build good, unit 7, bench desk, 21:40" */
export function run_name(run) {
  return [`build ${build_name(run.build)}`, run.unit ? `unit ${run.unit}` : null, run.bench ? `bench ${run.bench}` : null,
          when(run.started)].filter(Boolean).join(", ");
}

/** What a run counted: "119 of 135 met, 8 not met, 8 unsure". */
export function tally(run) {
  const all = (run.passed ?? 0) + (run.failed ?? 0) + (run.unsure ?? 0) + (run.skipped ?? 0);
  const parts = [`${run.passed ?? 0} of ${all} met`];
  for (const [n, word] of [[run.failed, "not met"], [run.unsure, "unsure"], [run.skipped, "skipped"]]) if (n) parts.push(`${n} ${word}`);
  return parts.join(", ");
}

/** A time as <time>. */
export function time_of(iso) { return h("time", { datetime: iso }, when(iso)); }
