#include "rig/bench/self_test.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "rig/bench/self_test_examiner.hpp"
#include "rig/bench/self_test_limits.hpp"

namespace cvrig {

void examiner::add(const std::string& name, const reading& r, const limit& allowed,
                   const std::string& sentence) {
    out_.findings.push_back(make_finding(name, r, allowed, sentence));
}

// What there is of it: nothing, if it begins outside.
examiner::samples_view examiner::part_of(samples_view x, std::ptrdiff_t from, std::size_t count) {
    if (from < 0 || static_cast<std::size_t>(from) >= x.size()) return {};
    const auto first = static_cast<std::size_t>(from);
    return x.subspan(first, std::min(count, x.size() - first));
}

examiner::samples_view examiner::at_rest(samples_view x) const {
    // Outputs that moved before the exchange have settled after 20 ms.
    const auto skip = static_cast<std::size_t>(std::lround(0.02 * rate_.value()));
    return part_of(x, static_cast<std::ptrdiff_t>(sent_.rest.from + skip),
                   sent_.rest.samples - skip);
}

std::vector<float> examiner::sequence() const {
    return analysis::loop_sequence(sent_.sequence.samples, self_test_stimulus::loop_first);
}

std::ptrdiff_t examiner::lag() const {
    return static_cast<std::ptrdiff_t>(std::lround(loop_->latency_samples));
}

bench_proof examiner::examine() && {
    out_.stopped = heard_.stopped;
    look_at_stream();
    if (out_.stopped) return std::move(out_);
    look_at_rest();
    if (!bench_.loop) {
        out_.cannot_exclude = unproven_without_loop();
        if (bench_.audio) out_.latency = bench_.audio->round_trip;
        return std::move(out_);
    }
    look_at_loop();
    if (!loop_) return std::move(out_);
    // After lost samples or with two clocks nothing lies where it was sent to; beneath noise or hum
    // nothing is read well; and what a mixer adds would be taken for levels.
    const bool in_place =
        whole_ && 100 * std::abs(loop_->rate_error) <= self_test_limits::drift_percent;
    if (!in_place || !quiet_) return std::move(out_);
    look_at_bandwidth();
    look_at_crosstalk_into_inputs();
    look_at_crosstalk_from_outputs();
    if (!mixed_) look_at_levels();
    return std::move(out_);
}

bool bench_proof::trusted() const noexcept {
    return !stopped && !findings.empty() &&
           std::ranges::all_of(findings, [](const bench_finding& f) { return f.ok; });
}

bench_proof judge_self_test(const bench& b, const self_test_stimulus& sent, const volts_in& heard) {
    return examiner{b, sent, heard}.examine();
}

bench_proof self_test(audio_interface& to, const bench& b, self_test_form form,
                      std::span<const volts> resting, const std::stop_token& stop) {
    const auto sent = make_self_test(b, to.rate(), form, resting);
    return judge_self_test(b, sent, to.exchange(sent.out, sent.tail, stop));
}

check_result as_check_result(const bench_proof& proof) {
    check_result out;
    out.check = "bench";
    out.reads = "what the rig proved of itself";
    for (const auto& f : proof.findings) {
        finding one;
        one.check = out.check;
        one.name = f.name;
        one.measured = f.measured;
        one.allowed = f.allowed;
        one.outcome = f.ok ? verdict::pass : verdict::unsure;
        one.reason = f.sentence;
        out.findings.push_back(std::move(one));
    }
    return out;
}

std::vector<std::string> faults(const bench_proof& proof) {
    std::vector<std::string> out;
    for (const auto& f : proof.findings)
        if (!f.ok) out.push_back(f.sentence);
    if (proof.stopped) out.emplace_back("The self-test was stopped before it was complete.");
    return out;
}

}  // namespace cvrig
