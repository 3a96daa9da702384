#include <fmt/format.h>
#include <catch2/catch.hpp>
#include <fstream>

#include "live_judging.hpp"
#include "rig/platform/process.hpp"

using namespace cvrig;
using namespace cvrig::test_support;

namespace {

namespace fs = std::filesystem;

// Whoever trims: has a meter, and changes cables when told to.
class person {
public:
    person(live_bench& bench, const fs::path& bench_file)
        : bench_{bench},
          rig_{{CVRIG_PROGRAM, "trim", "--bench", bench_file.string(), "--meter",
                "0.5 % + 2 digits of 1 mV"},
               bench.folder() / "trim"} {}

    // Changes the cable first, if one is named, as OUTPUT:INPUT.
    void answer(const std::string& question, const std::string& text,
                const std::string& cable = {}) {
        REQUIRE(
            becomes_true([&] { return rig_.out().find(question, heard_) != std::string::npos; }));
        heard_ = rig_.out().find(question, heard_) + question.size();
        if (!cable.empty()) bench_.tell_desk("loop " + cable);
        REQUIRE(rig_.write_line(text));
    }
    [[nodiscard]] child_program& rig() { return rig_; }

private:
    live_bench& bench_;
    child_program rig_;
    std::size_t heard_{0};
};

process_result self_test_of(const fs::path& bench_file) {
    const std::vector<std::string> words{CVRIG_PROGRAM, "selftest", "--bench", bench_file.string()};
    return run_process(words);
}

}  // namespace

TEST_CASE("an interface of another gain is trimmed by hand, and then proves itself") {
    judging_bench bench{true};
    auto& parts = bench.parts();
    parts.tell_desk("fault gain@out:-1.3");
    const auto file = parts.folder() / "trimmed.bench.yaml";
    std::ofstream{file} << live_bench_file("name: live desk",
                                           "name: live desk\ntrim: desk.trim.yaml");
    CHECK(self_test_of(file).status == 3);  // 1.3 % are 16 cents an octave

    person who{parts, file};
    who.answer("(y/n)", "y");
    for (int output = 1; output <= 6; ++output)
        for (const double v : {0.0, 1.0, 3.0, 5.0})
            who.answer("what does the meter say?", fmt::format("{:.3f}", 0.987 * v));
    parts.tell_desk("back none");  // the module's cables out of the inputs
    who.answer("straight to IN 1", "", "2:1");
    who.answer("straight to IN 2", "", "2:2");
    who.answer("straight to input 3", "", "2:3");
    who.answer("from output 7 to input 3", "", "7:3");
    REQUIRE(who.rig().ends_within(std::chrono::seconds{10}));
    CHECK(who.rig().status() == 0);

    parts.tell_desk("back left:1,right:2");
    const auto proven = self_test_of(file);
    INFO(who.rig().all() << proven.out.text);
    CHECK(proven.status == 0);
}
