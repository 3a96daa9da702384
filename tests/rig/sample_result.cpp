#include "sample_result.hpp"

#include <cmath>
#include <limits>

namespace cvrig::testing {

namespace {

const std::string script_breaker = "</script><script>alert('wide')</script>";
const std::string coloured_log =
    "\x1b[31mboot\x1b[0m ok\x07\nbad byte \xff, <b>bold</b> & \"quoted\"\n";

limit within(double half_width, dimension unit, std::string text) {
    return {-half_width, half_width, 0.0, unit, std::move(text)};
}

reading read(double value, double u, dimension unit, std::string at, std::string main_source) {
    return {value,
            unit,
            u,
            {{"estimator", 0.28 * u}, {std::move(main_source), 0.96 * u}},
            std::move(at)};
}

struct judged {
    verdict outcome;
    std::string reason;
};

finding measured(const std::string& name, reading r, limit allowed, judged j) {
    finding f;
    f.name = name;
    f.measured = std::move(r);
    f.allowed = std::move(allowed);
    f.outcome = j.outcome;
    f.reason = std::move(j.reason);
    return f;
}

finding answered(const std::string& name, answer a, const std::string& expected, judged j) {
    finding f;
    f.name = name;
    f.answered = std::move(a);
    f.expected = word{expected};
    f.outcome = j.outcome;
    f.reason = std::move(j.reason);
    return f;
}

check_result result(std::string check, std::string reads, setting_choice choice,
                    std::vector<finding> findings) {
    check_result r;
    r.check = std::move(check);
    r.reads = std::move(reads);
    r.choice = std::move(choice);
    r.findings = std::move(findings);
    for (auto& f : r.findings) {
        f.check = r.check;
        f.choice = r.choice;
    }
    return r;
}

setting_choice mode(const std::string& name) {
    return {{"mode", name}, {"slide knob", "down"}};
}

/// A stair up and down: two curves on the same voltages, a knee above 3 V on request.
plot pitch_plot(double knee_cents_per_volt) {
    series up{"going up", series::look::points, {}, {}, {}},
        down{"going down", series::look::points, {}, {}, {}};
    series line{"best straight line", series::look::line, {0.0, 4.0}, {0.4, 1.2}, {}};
    for (int i = 0; i <= 48; ++i) {
        const double v = i / 12.0;
        const double e =
            0.4 + 0.2 * v + 0.5 * std::sin(7.0 * v) + knee_cents_per_volt * std::max(0.0, v - 3.0);
        up.x.push_back(v);
        up.y.push_back(std::round(e * 1e4) / 1e4);
        up.u.push_back(0.21);
        down.x.push_back(v);
        down.y.push_back(std::round((e - 0.3) * 1e4) / 1e4);
        down.u.push_back(0.21);
    }
    return {"pitch error",
            "pitch CV in V",
            "error in cents",
            {up, down, line},
            {{"error within 5 cent", -5.0, 5.0}},
            "A straight slope is calibration, a bend is the converter."};
}

plot slide_plot() {
    series heard{"heard", series::look::line, {}, {}, {}};
    series fitted{"exponential, 22.4 ms", series::look::line, {}, {}, {}};
    for (int i = 0; i <= 120; ++i) {
        const double ms = i;
        const double model = 1200.0 * (1.0 - std::exp(-ms / 22.4));
        heard.x.push_back(ms);
        heard.y.push_back(std::round((model + 6.0 * std::sin(ms)) * 100.0) / 100.0);
        fitted.x.push_back(ms + 0.5);
        fitted.y.push_back(std::round(1200.0 * (1.0 - std::exp(-(ms + 0.5) / 22.4)) * 100.0) /
                           100.0);
    }
    return {"slide 0 V to 1 V", "time in ms", "cents above the old note", {heard, fitted}, {}, ""};
}

plot noise_plot() {
    series floor_line{script_breaker,
                      series::look::line,
                      {0.0, 50.0, 50.0, 50.5, 100.0, 20000.0},
                      {-92.0, -91.0, -71.5, -90.0, std::numeric_limits<double>::quiet_NaN(), -94.0},
                      {}};
    return {"noise floor",
            "frequency in Hz",
            "level in dBu",
            {floor_line},
            {{"mains at most -70 dBu", std::nullopt, -70.0}},
            "Mains lines stand at 50 Hz & multiples."};
}

std::vector<check_result> tracking() {
    const auto limits = within(5, dimension::cents, "within 5 cent");
    const auto scale = within(0.3, dimension::percent, "within 0.3 %");
    const limit hysteresis{std::nullopt, 1.0, std::nullopt, dimension::cents, "at most 1 cent"};
    const std::string reads = "error per note, scale, hysteresis";
    auto tied = result(
        "tracking", reads, mode("tied"),
        {measured("error",
                  read(1.68, 0.21, dimension::cents, "note 3.9167 V going up", "bench voltage"),
                  limits, {verdict::pass, ""}),
         measured("scale", read(0.017, 0.006, dimension::percent, "", "bench voltage"), scale,
                  {verdict::pass, ""}),
         measured("hysteresis", read(0.3, 0.05, dimension::cents, "note 2 V", "repeatability"),
                  hysteresis, {verdict::pass, ""})});
    tied.plots.push_back(pitch_plot(0.0));
    auto struck = result(
        "tracking", reads, mode("struck"),
        {measured(
             "error", read(4.92, 0.21, dimension::cents, "note 4 V going up", "bench voltage"),
             limits,
             {verdict::unsure, "the reading is nearer to the limit than its expanded uncertainty"}),
         measured("scale", read(0.09, 0.006, dimension::percent, "", "bench voltage"), scale,
                  {verdict::pass, ""}),
         measured("hysteresis", read(0.97, 0.05, dimension::cents, "note 1.5 V", "repeatability"),
                  hysteresis,
                  {verdict::unsure,
                   "the reading is nearer to the limit than its expanded uncertainty"})});
    struck.plots.push_back(pitch_plot(3.2));
    struck.attempts = 3;
    auto wide = result(
        "tracking", reads, mode("wide"),
        {measured("error", read(15.2, 0.22, dimension::cents, "note 4 V going up", "bench voltage"),
                  limits, {verdict::fail, "the reading lies 10.2 cent above the upper limit"}),
         measured("scale", read(0.72, 0.006, dimension::percent, "", "bench voltage"), scale,
                  {verdict::fail, "the reading lies 0.42 % above the upper limit"}),
         measured("hysteresis", read(0.28, 0.05, dimension::cents, "note 2 V", "repeatability"),
                  hysteresis, {verdict::pass, ""})});
    wide.plots.push_back(pitch_plot(14.0));
    wide.likeliest = diagnosis{
        "knee", "Right up to 3 V, then off by +14 cent more an octave: a knee, so a non-linear " +
                    script_breaker + " converter input; no constants can mend it."};
    return {tied, struck, wide};
}

std::vector<check_result> slide() {
    const limit time{0.0198, 0.0242, 0.022, dimension::seconds, "22 ms within 10 %"};
    const std::string reads = "time constant, shape, arrival";
    std::vector<check_result> all;
    for (const auto* name : {"tied", "wide"}) {
        const bool slow = std::string{name} == "wide";
        auto r = result(
            "slide", reads, mode(name),
            {measured("time constant",
                      read(0.02241, 0.00011, dimension::seconds, "0 V to 1 V", "estimator"), time,
                      {verdict::pass, ""}),
             measured("time constant",
                      read(slow ? 0.1763 : 0.02236, 0.00014, dimension::seconds, "1 V to 1.0833 V",
                           "estimator"),
                      time,
                      slow
                          ? judged{verdict::fail, "the reading lies 152.1 ms above the upper limit"}
                          : judged{verdict::pass, ""}),
             answered("shape", {"exponential in volts", 0.9998, 0.9998, "0 V to 1 V"},
                      "exponential in volts", {verdict::pass, ""})});
        r.plots.push_back(slide_plot());
        if (slow)
            r.likeliest = diagnosis{"no typical pattern", "No typical pattern fits what was read."};
        all.push_back(r);
    }
    return all;
}

std::vector<check_result> retrigger() {
    const std::string reads = "struck again or not, with the odds";
    const auto one = [&](const std::string& name, answer slid, const std::string& expected,
                         judged j) {
        return result("retrigger", reads, mode(name),
                      {answered("slide", std::move(slid), expected, std::move(j)),
                       answered("new gate", {"starts again", 1.0, 1.0, ""}, "starts again",
                                {verdict::pass, ""})});
    };
    return {one("tied", {"goes on", 0.998, 0.998, ""}, "goes on", {verdict::pass, ""}),
            one("struck", {"goes on", 0.971, 0.029, "step 14"}, "starts again",
                {verdict::fail, "the envelope goes on where it must start again"}),
            one("wide", {"goes on", 0.61, 0.61, "step 3"}, "goes on",
                {verdict::unsure, "the two answers are too alike in this recording"})};
}

std::vector<check_result> others() {
    auto noise =
        result("noise", "noise floor and mains lines", {},
               {measured("floor", read(-88.4, 0.3, dimension::dbu, "", "repeatability"),
                         {std::nullopt, -80.0, std::nullopt, dimension::dbu, "at most -80 dBu"},
                         {verdict::pass, ""}),
                measured("mains " + script_breaker,
                         read(-71.5, 0.3, dimension::dbu, "50 Hz", "repeatability"),
                         {std::nullopt, -70.0, std::nullopt, dimension::dbu, "at most -70 dBu"},
                         {verdict::pass, ""}),
                measured("bleed",
                         read(std::numeric_limits<double>::quiet_NaN(), 0.3, dimension::dbu, "",
                              "repeatability"),
                         {std::nullopt, -60.0, std::nullopt, dimension::dbu, "at most -60 dBu"},
                         {verdict::unsure, "the record is silent"})});
    noise.plots.push_back(noise_plot());
    finding by_hand;
    by_hand.name = "smallest cutoff";
    by_hand.allowed = limit{40.0, 80.0, std::nullopt, dimension::hertz, "between 40 Hz and 80 Hz"};
    by_hand.outcome = verdict::skipped;
    by_hand.reason = "Turn CUTOFF fully counter-clockwise: this run had no operator";
    return {noise, result("range", "cutoff over its control range", mode("tied"), {by_hand})};
}

std::vector<take_summary> takes() {
    take_summary good{1, mode("tied"), seconds{21.5}, {"tracking"}, 1, {}, ""};
    take_summary late{2,
                      mode("struck"),
                      seconds{21.5},
                      {"tracking", "retrigger"},
                      1,
                      {"the device lost 64 samples at 3.2 s", "line one\nline two \xc3\x28"},
                      coloured_log};
    take_summary again{3, mode("struck"), seconds{21.5}, {"tracking", "retrigger"}, 2, {}, ""};
    take_summary last{4, mode("wide"), seconds{18.25}, {"tracking", "slide"},
                      1, {},           script_breaker};
    return {good, late, again, last};
}

bench_account proven_bench() {
    bench_account b;
    b.proofs = {
        result("loop-back", "what went out comes back as it was", {},
               {measured("gain", read(0.02, 0.01, dimension::percent, "", "trim"),
                         within(1, dimension::percent, "within 1 %"), {verdict::pass, ""}),
                measured("droop", read(2.4, 0.2, dimension::percent, "gate of 0.5 s", "noise"),
                         within(1, dimension::percent, "within 1 %"),
                         {verdict::unsure,
                          "a long gate droops with 0.21 s: an output or input is AC-coupled <b>; "
                          "use DC-coupled sockets"})}),
        result("patch", "which cable is where", {},
               {answered("cables", {"as the bench file says", 0.999, 0.999, ""},
                         "as the bench file says", {verdict::pass, ""})})};
    b.facts = {"round trip 769 samples (16 ms)"};
    b.cannot_exclude = {"an exchange of left and right, since both sound alike " + script_breaker};
    return b;
}

preparation built_and_flashed() {
    return {{{.step = "build",
              .command = "make -C firmware \"IMAGE=build/bass <b>.hex\"",
              .output = coloured_log,
              .left_out_bytes = 2048,
              .took = seconds{12.25},
              .time_limit = seconds{600.0}},
             {.step = "flash",
              .command = "./flash build/bass.hex",
              .output = "",
              .left_out_bytes = 0,
              .took = seconds{4.5},
              .time_limit = seconds{120.0}}},
            {"The console was back 1.2 s after flashing.",
             "The module says that it runs version 1.4.0-7, as the image does."}};
}

}  // namespace

run_result sample_result() {
    run_result run;
    run.module = "Ferrule <b>";
    run.build_name = "1.4.0-7-g3f9a2c1";
    run.build_sha256 = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    run.build_commit = "1.4.0-7-g3f9a2c1-dirty <i>";
    run.build_version = "1.4.0-7";
    run.build_size_bytes = 48640;
    run.unit = "07\x1b[2J";
    run.bench_name = "desk";
    run.link = "program ferrule render, 48 kHz";
    run.expectations_file = "ferrule.expect.yaml";
    run.expectations_sha256 = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    run.bench_file = "desk.bench.yaml";
    run.bench_sha256 = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
    run.rig_version = "0.1.0";
    run.started = "2026-03-04T10:20:00Z";
    run.sound = seconds{82.75};
    run.analysis_cpu = seconds{1.84};
    run.wall = seconds{12.4375};
    run.prepared = built_and_flashed();
    run.bench = proven_bench();
    run.takes = takes();
    for (const auto& part : {tracking(), slide(), retrigger(), others()}) {
        run.checks.insert(run.checks.end(), part.begin(), part.end());
    }
    return run;
}

}  // namespace cvrig::testing
