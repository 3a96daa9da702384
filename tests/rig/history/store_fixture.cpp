#include "tests/rig/history/store_fixture.hpp"

namespace cvrig::history {

namespace {

evidence::told_finding reading(std::string name, verdict v, evidence::told_reading read,
                               double upper) {
    evidence::told_finding f;
    f.name = std::move(name);
    f.outcome = v;
    f.measured = std::move(read);
    f.demand = "as demanded";
    f.upper = upper;
    return f;
}

}  // namespace

evidence::told_run small_run(const std::string& build, double error_cents) {
    evidence::told_run r;
    r.outcome = error_cents > 5.0 ? verdict::fail : verdict::pass;
    r.module = "Ferrule";
    r.unit = "7";
    r.build_name = build;
    r.build_sha256 = std::string(64 - build.size(), '0') + build;
    r.commit = "v1-" + build;
    r.version = "1.0.0";
    r.size_bytes = 65536;
    r.bench_name = "desk";
    r.link = "program ferrule render, 48 kHz";
    r.rig_version = "0.1.0";
    r.started = "2026-11-30T10:00:00Z";
    r.sound_s = 12.5;
    r.wall_s = 3.25;
    evidence::told_check tracking{"tracking", {{"mode", "tied"}}, {}};
    tracking.findings.push_back(
        reading("error", r.outcome, {error_cents, 0.2, dimension::cents, "note 2 V", 1}, 5.0));
    tracking.findings.push_back(
        reading("hysteresis", verdict::pass, {0.1, 0.05, dimension::cents, "", 1}, 1.0));
    evidence::told_check retrigger{"retrigger", {{"mode", "tied"}}, {}};
    evidence::told_finding slide;
    slide.name = "slide";
    slide.outcome = verdict::pass;
    slide.answered = evidence::told_answer{"goes on", 0.999, 0.999};
    slide.demand = "goes on";
    retrigger.findings.push_back(slide);
    r.checks = {tracking, retrigger};
    r.takes = {{1, 1, {{"mode", "tied"}}, 12.5, {"too short"}}};
    return r;
}

run_circumstances keyed(const std::string& key) {
    return {key, "2026-11-30T10:01:00Z", "/reports/" + key, true};
}

}  // namespace cvrig::history
