#include "rig/service/image_intake.hpp"

#include <fmt/format.h>

#include <system_error>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/secrets.hpp"
#include "rig/platform/utc_now.hpp"
#include "rig/run/plain_name.hpp"
#include "rig/service/job_command.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;

constexpr std::size_t key_digits = 32;
constexpr std::size_t folder_digits = 12;

/// The same image with the same unit and expectation file is the same job, however often it is found.
std::string key_of(const job& j, const std::string& daemon) {
    return sha256_of(
               fmt::format("{}\n{}\n{}\n{}", j.image_sha256, j.unit, daemon, j.expectations_sha256))
        .substr(0, key_digits);
}

}  // namespace

image_intake::image_intake(job_store& jobs, intake_settings s) : jobs_{jobs}, from_{std::move(s)} {}

job image_intake::job_of(const found_image& image, const std::string& unit) const {
    job j;
    j.image = image.file.string();
    j.image_sha256 = image.sha256;
    j.build_name = image.file.stem().string();
    j.commit = image.commit;
    j.unit = unit;
    // Now, since the file may have been edited after the daemon was started.
    j.expectations_sha256 = sha256_of_file(from_.expectations);
    j.asked = utc_now();
    return j;
}

std::optional<std::int64_t> image_intake::file(job j, const found_image& image) {
    j.report_folder = (from_.reports / fmt::format("{}-{}", plain_name(j.build_name),
                                                   j.key.substr(0, folder_digits)))
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
    auto j = job_of(image, from_.unit);
    j.key = key_of(j, from_.daemon);
    j.asked_by = "watch";
    jobs_.supersede(j.image, j.key);
    if (jobs_.has_job_like(j)) return std::nullopt;
    return file(std::move(j), image);
}

std::int64_t image_intake::submitted(const submission& s) {
    const fs::path file_path{s.image};
    if (!file_path.is_absolute())
        throw user_error{"An image is submitted by its absolute path on this machine."};
    const auto image = read_found_image(file_path);
    auto j = job_of(image, s.unit.empty() ? from_.unit : s.unit);
    if (!s.build.empty()) j.build_name = s.build;
    if (!s.commit.empty()) j.commit = s.commit;
    j.key = unguessable().substr(0, key_digits);
    j.asked_by = "submit";
    return file(std::move(j), image).value();
}

}  // namespace cvrig::service
