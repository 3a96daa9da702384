#include "rig/cli/begin_result.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>
#include <chrono>
#include <filesystem>

#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

std::string utc_now() {
    const auto now =
        std::chrono::time_point_cast<std::chrono::seconds>(std::chrono::system_clock::now());
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}",
                       fmt::gmtime(std::chrono::system_clock::to_time_t(now)));
}

}  // namespace

void require_fit(const bench& b, const module_expectations& m) {
    auto wrong = mismatches(b, m);
    if (!wrong.empty()) throw user_error{std::move(wrong)};
}

void require_image(const std::string& image) {
    if (!image.empty() && !fs::is_regular_file(image))
        throw user_error{fmt::format(
            "The image file {} does not exist; build the firmware first or correct --image.",
            image)};
}

run_result begin_result(const run_arguments& a, const module_expectations& m, const bench& b,
                        const std::string& link) {
    run_result r;
    r.module = m.module;
    r.build_name = a.build_name.empty() ? fs::path{a.image}.stem().string() : a.build_name;
    if (!a.image.empty()) r.build_sha256 = sha256_of_file(a.image);
    r.unit = a.unit;
    r.bench_name = b.name;
    r.link = link;
    r.expectations_file = fs::path{m.file}.filename().string();
    r.expectations_sha256 = m.sha256;
    r.bench_file = fs::path{b.file}.filename().string();
    r.bench_sha256 = b.sha256;
    r.rig_version = CVRIG_VERSION;
    r.started = utc_now();
    r.coverage_factor = m.coverage_factor;
    return r;
}

}  // namespace cvrig
