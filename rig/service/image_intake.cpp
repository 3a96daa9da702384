#include "rig/service/image_intake.hpp"

#include <fmt/format.h>

#include <system_error>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/secrets.hpp"
#include "rig/run/plain_name.hpp"
#include "rig/service/job_runner.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t key_digits = 32;
constexpr std::size_t folder_digits = 12;

/// The same image with the same unit is the same job, however often it is found.
std::string key_of(const found_image& image, const std::string& unit, const std::string& bench) {
    return sha256_of(image.sha256 + "\n" + unit + "\n" + bench).substr(0, key_digits);
}

job job_of(const found_image& image, const std::string& unit) {
    job j;
    j.image = image.file.string();
    j.image_sha256 = image.sha256;
    j.build_name = image.file.stem().string();
    j.commit = image.commit;
    j.unit = unit;
    j.asked = utc_now();
    return j;
}

}  // namespace

image_intake::image_intake(job_store& jobs, fs::path reports, std::string unit,
                           std::string bench_file)
    : jobs_{jobs},
      reports_{std::move(reports)},
      unit_{std::move(unit)},
      bench_file_{std::move(bench_file)} {}

std::optional<std::int64_t> image_intake::file(job j, const found_image& image) {
    j.report_folder =
        (reports_ / fmt::format("{}-{}", plain_name(j.build_name), j.key.substr(0, folder_digits)))
            .string();
    const auto copy = image_copy_of(j);
    std::error_code failed;
    fs::create_directories(copy.parent_path(), failed);
    if (failed)
        throw user_error{fmt::format("The folder {} cannot be made: {}.",
                                     copy.parent_path().string(), failed.message())};
    write_file_atomically(copy, image.bytes);
    return jobs_.add(j);
}

std::optional<std::int64_t> image_intake::found(const found_image& image) {
    auto j = job_of(image, unit_);
    j.key = key_of(image, unit_, bench_file_);
    j.asked_by = "watch";
    jobs_.supersede(j.image, j.key);
    if (jobs_.knows_image(image.sha256, unit_)) return std::nullopt;
    return file(std::move(j), image);
}

std::int64_t image_intake::submitted(const submission& s) {
    const fs::path file_path{s.image};
    if (!file_path.is_absolute())
        throw user_error{"An image is submitted by its absolute path on this machine."};
    const auto image = read_found_image(file_path);
    auto j = job_of(image, s.unit.empty() ? unit_ : s.unit);
    if (!s.build.empty()) j.build_name = s.build;
    if (!s.commit.empty()) j.commit = s.commit;
    j.key = unguessable().substr(0, key_digits);
    j.asked_by = "submit";
    return file(std::move(j), image).value();
}

}  // namespace cvrig::service
