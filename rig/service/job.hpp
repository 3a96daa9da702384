#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace cvrig::service {

/// What has become of a job.
enum class job_state {
    waiting,
    running,
    done,     ///< its run was filed, whatever its verdict
    stopped,  ///< by somebody, or since there was something newer
    failed    ///< nothing could be judged
};

[[nodiscard]] std::string_view in_words(job_state s) noexcept;

/// One image that is to be judged, from the moment it was asked for.
struct job {
    std::int64_t id{0};
    std::string key;           ///< the same is added once
    std::string image;         ///< where it was found; the daemon's copy is in the report folder
    std::string image_sha256;  ///< of the copy
    std::string expectations_sha256;  ///< of the file that it was to be judged by
    std::string build_name, commit, unit;
    std::string asked;     ///< ISO 8601, UTC, as all times
    std::string asked_by;  ///< "watch" or "submit"
    job_state state{job_state::waiting};
    int attempts{0};  ///< runs that were begun
    int crashes{0};   ///< runs among these that crashed
    std::string started, ended;
    std::string report_folder;
    std::optional<int> exit_status;
    std::optional<std::int64_t> run;  ///< once it is filed
    std::string verdict;              ///< of that run
    std::string why;                  ///< one sentence, where a state needs one
};

}  // namespace cvrig::service
