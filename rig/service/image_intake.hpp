#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>

#include "rig/service/image_watch.hpp"
#include "rig/service/job_store.hpp"

namespace cvrig::service {

/// What somebody who submits an image says of it; what is empty is the daemon's own choice.
struct submission {
    std::string image, build, commit, unit;
};

/// Makes jobs of images: copies each into its job's folder, then files the job, so that a job that is
/// there has its image.
class image_intake {
public:
    /// `jobs` must outlive it. `unit` is the specimen on the bench if nobody says otherwise.
    image_intake(job_store& jobs, std::filesystem::path reports, std::string unit,
                 std::string bench_file);

    /// An image that was found. Nothing if it is known already (with this unit). Jobs that still wait
    /// for what lay in its place before are stopped.
    [[nodiscard]] std::optional<std::int64_t> found(const found_image& image);

    /// Throws user_error for an image that cannot be read or is none.
    [[nodiscard]] std::int64_t submitted(const submission& s);

private:
    [[nodiscard]] std::optional<std::int64_t> file(job j, const found_image& image);

    job_store& jobs_;
    std::filesystem::path reports_;
    std::string unit_, bench_file_;
};

}  // namespace cvrig::service
