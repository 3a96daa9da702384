#pragma once

#include <array>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "rig/run/patch_check.hpp"
#include "tests/rig/patch/ferrule_desk.hpp"

namespace cvrig::testing {

inline constexpr std::array<const char*, desk_jacks> jack_names{"pitch", "gate", "accent", "slide",
                                                                "cutoff"};

/// The demo's files, with sockets that have names and lines that silence an output.
struct demo_files {
    module_expectations module;
    bench desk;
};
[[nodiscard]] demo_files read_demo();

/// A unit as the expectation file wants it to be set.
[[nodiscard]] std::vector<std::string> demo_unit(int unit, std::string_view mode,
                                                 std::string_view build = "good");

/// The whole check at one desk, with a console.
[[nodiscard]] patch_result check_cables(const demo_files& files,
                                        const std::vector<std::string>& words,
                                        const cabling& cables);

/// How near right and wrong come to each other over many checks, for each jack.
class margins {
public:
    void add(const patch_result& r, const cabling& cables);
    void print(std::string_view title) const;

private:
    struct extremes {
        double least_where_it_is{1e9};
        double most_where_it_is_not{0.0};
        double threshold{0.0};
    };
    std::map<std::string, extremes> by_jack_;
};

}  // namespace cvrig::testing
