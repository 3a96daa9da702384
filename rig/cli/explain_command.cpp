#include <fmt/format.h>
#include <filesystem>
#include <iostream>

#include "rig/cli/commands.hpp"
#include "rig/expectations/explain.hpp"
#include "rig/expectations/explain_calibration.hpp"

namespace cvrig {

namespace {

bench_output any_output(const std::string& jack) {
    bench_output out;
    out.jack = jack;
    out.lowest = volts{-1e3};
    out.highest = volts{1e3};
    out.u = volts{0.0};
    return out;
}

bench_input any_input(const std::string& jack) {
    bench_input in;
    in.jack = jack;
    in.u_gain_percent = 0.0;
    return in;
}

// Without a bench file the time is that of a bench with every jack and wide limits at 48 kHz.
bench any_bench(const module_expectations& m) {
    bench b;
    for (const auto& jack : m.drive) b.outputs.push_back(any_output(jack.name));
    for (const auto& jack : m.listen) b.inputs.push_back(any_input(jack));
    return b;
}

}  // namespace

exit_status explain_command(const std::string& expectations, const std::string& bench_file) {
    if (const auto* named = find_check(expectations);
        named != nullptr && bench_file.empty() && !std::filesystem::exists(expectations)) {
        std::cout << explain_check(named->spec);
        return exit_status::passed;
    }
    if (expectations == "calibration" && !std::filesystem::exists(expectations)) {
        std::cout << explain_calibration_keys();
        return exit_status::passed;
    }
    const auto specs = all_specs();
    const auto m = read_expectations(expectations, specs);
    const auto b = bench_file.empty() ? any_bench(m) : read_bench(bench_file);
    if (auto wrong = mismatches(b, m); !bench_file.empty() && !wrong.empty())
        throw user_error{std::move(wrong)};
    const auto plan = plan_run(m, b);
    std::cout << explain(m, specs) << '\n';
    for (const auto& take : plan.takes)
        std::cout << fmt::format("Take with {}: {:.1f} s.\n", in_words(take.choice),
                                 take.length().value());
    std::cout << fmt::format(
        "All in all {} takes, {:.1f} s of sound, and up to {} retakes where a reading is unsure.\n",
        plan.takes.size(), plan.sound().value(), m.retakes);
    return exit_status::passed;
}

}  // namespace cvrig
