#include "rig/run/live_bench.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <algorithm>
#include <utility>

#include "rig/console/fill_in.hpp"
#include "rig/run/order_takes.hpp"
#include "rig/run/proofs.hpp"

namespace cvrig {

namespace {

/// Plays nothing and says why.
class refusing_link : public link {
public:
    explicit refusing_link(std::string why) : why_{std::move(why)} {}

    take play(const stimulus& s, const setting_choice& choice, int number, int attempt) override {
        take t = begin_take(s, choice, number, attempt);
        t.problems.push_back(why_);
        return t;
    }
    [[nodiscard]] std::string description() const override { return "no link"; }
    [[nodiscard]] bool is_hopeless() const override { return true; }

private:
    std::string why_;
};

std::unique_ptr<console> console_of(const bench& b, const module_expectations& m,
                                    const live_bench_options& options) {
    if (!b.console) return nullptr;
    return open_console(filled_in(*b.console, options.substitutions, options.search_folders),
                        m.console.value_or(console_rules{}),
                        options.speaks_after_stop ? std::stop_token{} : options.stop);
}

std::optional<dialogue_line> alive_line(const module_expectations& m) {
    if (!m.console) return std::nullopt;
    return m.console->no_error ? m.console->no_error : m.console->identity;
}

bool asks_for_boot(const run_plan& plan) {
    return std::ranges::any_of(plan.takes, [](const planned_take& t) {
        return std::ranges::any_of(t.checks, [](const planned_check& c) {
            return c.wanted->keys.contains("pop at boot");
        });
    });
}

}  // namespace

int planned_actions(const run_plan& plan, const module_expectations& m, const bench& b) {
    return hand_work_of(plan, m, b.console.has_value()).actions;
}

live_bench::live_bench(const bench& b, const module_expectations& m, live_bench_options options)
    : bench_{b},
      module_{m},
      options_{std::move(options)},
      interface_{b},
      console_{console_of(b, m, options_)},
      audio_{interface_, b, {.recorded = m.listen, .stop = options_.stop}},
      voltages_{interface_, b, m, options_.stop} {
    interface_.listen(options_.tap);
}

run_plan live_bench::ordered(run_plan plan, const std::optional<setting_choice>& now) const {
    const auto prepared = prepared_settings(module_);
    const auto start = now || prepared.empty() ? now : std::optional{prepared};
    return order_takes(std::move(plan), module_, bench_.console.has_value(), start);
}

// The voltages at which every jack rests.
std::vector<volts> live_bench::resting() const {
    std::vector<volts> all;
    for (const auto& output : bench_.outputs) {
        const auto* jack = module_.find_jack(output.jack);
        const volts rest = jack == nullptr ? volts{0.0} : jack->is_gate ? jack->low : jack->rest;
        all.push_back(rest);
    }
    return all;
}

void live_bench::distrust(const std::string& why) {
    if (distrust_.empty()) distrust_ = why;
}

void live_bench::prove_loop(bench_account& account) {
    // A busy computer may spoil one short test; a fault of the bench spoils all.
    constexpr int most_tries = 3;
    bench_proof proof;
    for (int i = 0; i < most_tries; ++i) {
        proof = self_test(interface_, bench_, self_test_form::preamble, resting(), options_.stop);
        if (proof.trusted() || proof.stopped) break;
    }
    account.proofs.push_back(as_check_result(proof));
    account.cannot_exclude = proof.cannot_exclude;
    if (proof.latency) {
        account.facts.push_back(fmt::format("round trip {:.0f} samples ({})",
                                            proof.latency->value() * interface_.rate().value(),
                                            show(proof.latency->value(), dimension::seconds, 4)));
        audio_.use_latency(*proof.latency);
    }
    if (!proof.trusted())
        distrust(fmt::format("The bench is not proven: {}", fmt::join(faults(proof), " ")));
}

void live_bench::prove_console(bench_account& account) {
    if (!console_) return;
    account.facts.push_back("console on " + console_->description());
    if (!module_.console || !module_.console->identity) return;
    const auto reply = console_->ask(*module_.console->identity);
    account.proofs.push_back(console_proof(reply));
    if (reply.ok)
        account.facts.push_back(fmt::format("the module calls itself '{}'", reply.line));
    else
        distrust("The module's console is not proven: " + reply.problem);
}

void live_bench::prove_cables(bench_account& account, const setting_choice& first) {
    const auto set = setter_->set(first);
    if (set.became == set_result::what::failed) {
        distrust("The module cannot be set: " + set.reason);
        return;
    }
    if (set.became == set_result::what::aborted) {
        options_.stop_run();
        return;
    }
    patch_options how;
    how.stop = options_.stop;
    if (console_)
        how.tell = [this](const std::string& line) {
            const auto sent = console_->ask({.send = line, .expect = {}, .where = {}}).ok;
            return sent && (!module_.console || !module_.console->no_error ||
                            console_->ask(*module_.console->no_error).ok);
        };
    const auto patch = check_patch(interface_, bench_, module_, how);
    account.proofs.push_back(patch_proof(patch));
    unproven_jacks_ = patch.unproven_jacks;
    std::ranges::copy(patch.cannot_exclude, std::back_inserter(account.cannot_exclude));
    if (!patch.as_wired)
        distrust(fmt::format("The cables are not proven: {}", fmt::join(patch.sentences, " ")));
    if (!bench_.loop && patch.gate_to_sound_samples)
        audio_.use_latency(seconds{*patch.gate_to_sound_samples / interface_.rate().value()});
}

bench_account live_bench::prove(const run_plan& plan) {
    setter_ = std::make_unique<live_setter>(
        module_, console_.get(),
        live_setter_options{.ask = options_.ask,
                            .made_before = prepared_settings(module_),
                            .planned_actions = planned_actions(plan, module_, bench_)});
    bench_account account;
    prove_loop(account);
    if (distrust_.empty()) prove_console(account);
    // Where nothing is played, no cable matters.
    if (distrust_.empty() && !plan.takes.empty()) prove_cables(account, plan.takes.front().choice);
    if (asks_for_boot(plan))
        account.cannot_exclude.emplace_back(
            "A pop at switching on: the module was on before the run began.");
    if (distrust_.empty()) {
        live_ = std::make_unique<live_link>(live_parts{.plays = audio_,
                                                       .sets = *setter_,
                                                       .talks = console_.get(),
                                                       .alive = alive_line(module_),
                                                       .stop_run = options_.stop_run});
    } else {
        refusing_ = std::make_unique<refusing_link>(distrust_);
    }
    return account;
}

link& live_bench::to_module() {
    if (live_) return *live_;
    return *refusing_;
}

std::string live_bench::description() const {
    return interface_.description();
}

}  // namespace cvrig
