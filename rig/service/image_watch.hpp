#pragma once

#include <chrono>
#include <filesystem>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "rig/platform/file_watch.hpp"
#include "rig/service/settling.hpp"

namespace cvrig::service {

/// An image that was read as a whole.
struct found_image {
    std::filesystem::path file;  ///< where it lies; something newer may lie there by now
    std::string bytes;
    std::string sha256;
    std::string
        commit;  ///< what IMAGE.commit beside it says; empty: nothing, or of an image before
};

/// No firmware for a small module is larger.
inline constexpr std::uintmax_t largest_image_bytes = std::uintmax_t{256} << 20U;

/// Reads a file, at most `largest_image_bytes`, and what is said of it beside it. Throws user_error.
[[nodiscard]] found_image read_found_image(const std::filesystem::path& file);

/// Finds images that are new or have changed, in folders (without those inside) and at paths of
/// files, and reads them once they have settled.
class image_watch {
public:
    /// What is no folder is the path of an image; it need not be there yet.
    explicit image_watch(const std::vector<std::filesystem::path>& places);

    /// The images that have settled since; waits at most that long if there are none.
    [[nodiscard]] std::vector<found_image> next(std::chrono::milliseconds wait);

    /// An image that was found could not be taken in: it is found again, unless it is gone by then.
    void find_again(const std::filesystem::path& file);

    /// Files that cannot be taken for an image, places that are not there, commits that are of an image
    /// before: one sentence each, told once.
    [[nodiscard]] std::vector<std::string> problems();

private:
    void look_around(steady_point now);
    void look_at_settled(const std::filesystem::path& file, steady_point now,
                         std::vector<found_image>& into);
    void leave_out_old_commit(found_image& image);
    [[nodiscard]] bool is_image(const std::filesystem::path& file) const;

    std::vector<std::filesystem::path> folders_, files_;
    file_watch watch_;
    settling_files settling_;
    std::set<std::filesystem::path> known_;
    std::vector<std::string> problems_;
    struct said_beside {
        std::string sha256;  ///< of the image
        std::filesystem::file_time_type written{};
    };
    std::map<std::filesystem::path, said_beside> commits_;
    steady_point looked_{};
};

}  // namespace cvrig::service
