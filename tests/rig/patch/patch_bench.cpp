#include "tests/rig/patch/patch_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iostream>

#include "rig/checks/check.hpp"

namespace cvrig::testing {

demo_files read_demo() {
    demo_files out{
        read_expectations(std::string{CVRIG_DEMO} + "/ferrule.expectations.yaml", all_specs()),
        read_bench(std::string{CVRIG_DEMO} + "/desk.bench.yaml")};
    // Cables that a search knows apart by what they do; a further jack would only be one more.
    std::erase_if(out.module.drive, [](const driven_jack& j) { return j.name == "decay"; });
    std::erase_if(out.desk.outputs, [](const bench_output& o) { return o.jack == "decay"; });
    for (std::size_t i = 0; i < out.desk.outputs.size(); ++i)
        out.desk.outputs[i].socket = fmt::format("OUT {}", i + 1);
    for (std::size_t i = 0; i < out.desk.inputs.size(); ++i)
        out.desk.inputs[i].socket = fmt::format("IN {}", i + 1);
    out.module.routes =
        output_route{{{"left", "ROUTe left"}, {"right", "ROUTe right"}}, "ROUTe all", {}};
    return out;
}

std::vector<std::string> demo_unit(int unit, std::string_view mode, std::string_view build) {
    return {fmt::format("unit={}", unit),
            fmt::format("mode={}", mode),
            "waveform=saw",
            "cutoff knob=down",
            "slide knob=down",
            fmt::format("image={}/builds/{}.ferrule", CVRIG_DEMO, build)};
}

patch_result check_cables(const demo_files& files, const std::vector<std::string>& words,
                          const cabling& cables) {
    ferrule_desk desk{words, cables};
    return check_patch(desk, files.desk, files.module,
                       {.tell = [&](const std::string& line) { return desk.tell(line); }});
}

void margins::add(const patch_result& r, const cabling& cables) {
    const auto place = [](const std::string& name) {
        return static_cast<std::size_t>(std::find(jack_names.begin(), jack_names.end(), name) -
                                        jack_names.begin());
    };
    for (const auto& e : r.effects) {
        // A filter that follows the pitch is told by what is missing, not by what is there.
        if (e.jack == "cutoff" && cables.gain[place(e.output)][0] != 0.0) continue;
        auto& m = by_jack_[e.jack];
        m.threshold = e.threshold;
        const double size = std::abs(e.size);
        if (cables.gain[place(e.output)][place(e.jack)] != 0.0)
            m.least_where_it_is = std::min(m.least_where_it_is, size);
        else
            m.most_where_it_is_not = std::max(m.most_where_it_is_not, size);
    }
}

void margins::print(std::string_view title) const {
    for (const auto& [jack, m] : by_jack_)
        std::cout << fmt::format(
            "{}: {}: at least {:.2f} where it is, at most {:.2f} where it is "
            "not, threshold {:.2f}\n",
            title, jack, m.least_where_it_is, m.most_where_it_is_not, m.threshold);
}

}  // namespace cvrig::testing
