#include "rig/run/patch_check.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/run/patch_cast.hpp"
#include "rig/run/patch_listening.hpp"
#include "rig/run/patch_routes.hpp"
#include "rig/run/patch_search.hpp"
#include "rig/run/patch_short.hpp"
#include "rig/run/patch_verdict.hpp"

namespace cvrig {

namespace {

using namespace patching;

constexpr seconds beyond_latency{0.05};

// The outputs that were found to work, in the places of those that should.
cast as_found(const cast& who, const search_reading& found) {
    cast out;
    out.gate = player_of(found.gate, who.gate);
    out.pitch = player_of(found.pitch, who.pitch);
    out.cutoff = player_of(found.cutoff, who.cutoff);
    if (out.pitch && has(found.gate, *out.pitch)) out.pitch.reset();
    if (out.cutoff && has(found.gate, *out.cutoff)) out.cutoff.reset();
    return out;
}

class checker {
public:
    checker(audio_interface& desk, const bench& b, const module_expectations& m,
            const patch_options& options)
        : bench_{b},
          module_{m},
          options_{options},
          who_{cast_of(b, m)},
          player_{desk, b, options.longest_latency + beyond_latency, options.stop} {}

    patch_result run() {
        if (!who_.gate || !who_.pitch) return nothing_to_check();
        const auto held = play_short_test(player_, bench_, module_, who_, options_.longest_latency);
        if (!held.problem.empty()) return no_record(held.problem);
        if (held.holds) {
            accept_short_test(bench_, who_, held, result_);
            result_.gate_to_sound_samples = held.delay_samples;
            return finish(who_, held.inputs_sound);
        }
        return search(held);
    }

private:
    patch_result search(const short_reading& held) {
        const auto found = search_cables({.to_module = player_,
                                          .desk = bench_,
                                          .module = module_,
                                          .who = who_,
                                          .levels = levels_for(bench_, module_),
                                          .longest_latency = options_.longest_latency,
                                          .accent_is_masked = held.accent_doubtful});
        if (!found.problem.empty()) return no_record(found.problem);
        judge_search(bench_, who_, found, result_);
        result_.gate_to_sound_samples = found.delay_samples;
        if (found.gate.empty()) return finish({}, found.inputs_sound);
        judge_inputs(bench_, found.inputs_sound, result_);
        return finish(as_found(who_, found), found.inputs_sound);
    }

    patch_result finish(const cast& found, const std::vector<bool>& inputs_sound) {
        if (found.gate) {
            const auto routes = play_routes(player_, bench_, module_, found, options_.tell);
            judge_routes(bench_, module_, routes, inputs_sound, result_);
        }
        result_.played = player_.played();
        result_.as_wired = result_.sentences.empty();
        return result_;
    }

    patch_result no_record(const std::string& problem) {
        result_.sentences.push_back(
            fmt::format("Where the cables lead could not be heard: {}", problem));
        result_.played = player_.played();
        return result_;
    }

    patch_result nothing_to_check() {
        result_.as_wired = true;
        for (const auto& jack : module_.drive) result_.unproven_jacks.push_back(jack.name);
        result_.cannot_exclude.push_back(
            "No cable could be checked by ear: that needs the jacks 'gate' and 'pitch' in the "
            "expectation file and outputs that feed them.");
        return result_;
    }

    const bench& bench_;
    const module_expectations& module_;
    const patch_options& options_;
    cast who_;
    player player_;
    patch_result result_;
};

}  // namespace

bool patch_result::proves(std::string_view jack) const {
    return std::find(unproven_jacks.begin(), unproven_jacks.end(), jack) == unproven_jacks.end();
}

patch_result check_patch(audio_interface& desk, const bench& b, const module_expectations& m,
                         const patch_options& options) {
    return checker{desk, b, m, options}.run();
}

}  // namespace cvrig
