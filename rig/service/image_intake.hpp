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

struct intake_settings {
    std::filesystem::path reports;       ///< folder in which each job gets its own
    std::string unit;                    ///< the specimen on the bench if nobody says otherwise
    std::filesystem::path expectations;  ///< the file that images are judged by
    std::string daemon;                  ///< as job_store has it
};

/// Makes jobs of images: copies each into its job's folder, then files the job, so that a job that is
/// there has its image.
class image_intake {
public:
    /// `jobs` must outlive it.
    image_intake(job_store& jobs, intake_settings s);

    /// An image that was found. Nothing if there is a job for the same bytes, unit and expectation file. Jobs that still wait
    /// for what lay in its place before are stopped.
    [[nodiscard]] std::optional<std::int64_t> found(const found_image& image);

    /// Throws user_error for an image that cannot be read or is none.
    [[nodiscard]] std::int64_t submitted(const submission& s);

private:
    [[nodiscard]] job job_of(const found_image& image, const std::string& unit) const;
    [[nodiscard]] std::optional<std::int64_t> file(job j, const found_image& image);

    job_store& jobs_;
    intake_settings from_;
};

}  // namespace cvrig::service
