#include "rig/service/image_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <fstream>
#include <iterator>
#include <optional>
#include <string_view>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/platform/files.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;
using std::chrono::milliseconds;
using namespace std::chrono_literals;

constexpr std::array<std::string_view, 5> endings{".hex", ".uf2", ".dfu", ".elf", ".bin"};
constexpr auto between_scans = 2s;  ///< for file systems that tell of no changes
constexpr auto while_settling = 100ms;

bool has_image_ending(const fs::path& file) {
    auto ending = file.extension().string();
    std::ranges::transform(ending, ending.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return std::ranges::find(endings, ending) != endings.end();
}

std::optional<file_look> look_at(const fs::path& file) {
    std::error_code failed;
    file_look out;
    if (!fs::is_regular_file(file, failed)) return std::nullopt;
    out.size = fs::file_size(file, failed);
    if (!failed) out.changed = fs::last_write_time(file, failed);
    return failed ? std::nullopt : std::optional{out};
}

fs::path commit_file_of(const fs::path& image) {
    return image.string() + ".commit";
}

std::string commit_beside(const fs::path& image) {
    constexpr std::size_t most = 200;
    std::ifstream in{commit_file_of(image)};
    std::string line;
    std::getline(in, line);
    return squeezed(line.substr(0, most));
}

std::vector<fs::path> folders_to_watch(const std::vector<fs::path>& folders,
                                       const std::vector<fs::path>& files) {
    auto out = folders;
    for (const auto& file : files) out.push_back(file.parent_path());
    std::ranges::sort(out);
    out.erase(std::unique(out.begin(), out.end()), out.end());
    return out;
}

std::vector<fs::path> those_that(const std::vector<fs::path>& places, bool are_folders) {
    std::vector<fs::path> out;
    for (const auto& place : places) {
        std::error_code ignored;
        const bool is_folder = fs::is_directory(place, ignored) ||
                               (!fs::exists(place, ignored) && !place.has_extension());
        if (is_folder == are_folders) out.push_back(fs::absolute(place).lexically_normal());
    }
    return out;
}

}  // namespace

found_image read_found_image(const fs::path& file) {
    const auto look = look_at(file);
    if (!look)
        throw user_error{fmt::format("There is no image file {}.", quoted(file.string(), 300))};
    if (look->size > largest_image_bytes)
        throw user_error{fmt::format("{} is larger than any firmware ({} bytes).",
                                     quoted(file.string(), 300), look->size)};
    found_image out;
    out.file = file;
    std::ifstream in{file, std::ios::binary};
    if (!in)
        throw user_error{fmt::format("The image {} cannot be read.", quoted(file.string(), 300))};
    out.bytes.assign(std::istreambuf_iterator<char>{in}, {});
    out.sha256 = sha256_of(out.bytes);
    out.commit = commit_beside(file);
    return out;
}

image_watch::image_watch(const std::vector<fs::path>& places)
    : folders_{those_that(places, true)},
      files_{those_that(places, false)},
      watch_{folders_to_watch(folders_, files_)} {
    std::error_code ignored;
    for (const auto& folder : folders_to_watch(folders_, files_))
        if (!fs::is_directory(folder, ignored))
            problems_.push_back(
                fmt::format("There is no folder {} yet; it is watched once it is made.",
                            quoted(folder.string(), 300)));
}

bool image_watch::is_image(const fs::path& file) const {
    if (std::ranges::find(files_, file) != files_.end()) return true;
    return has_image_ending(file) &&
           std::ranges::find(folders_, file.parent_path()) != folders_.end();
}

void image_watch::look_around(steady_point now) {
    looked_ = now;
    std::set<fs::path> found;
    const auto look = [&](const fs::path& file) {
        if (const auto seen = is_image(file) ? look_at(file) : std::nullopt) {
            settling_.seen(file, *seen, now);
            found.insert(file);
        }
    };
    for (const auto& folder : folders_) {
        std::error_code failed;
        for (fs::directory_iterator at{folder, failed}, end; !failed && at != end;
             at.increment(failed))
            look(at->path());
    }
    for (const auto& file : files_) look(file);
    for (const auto& file : known_)
        if (!found.contains(file)) settling_.gone(file);
    known_ = std::move(found);
}

std::vector<found_image> image_watch::next(milliseconds wait) {
    const auto shortest = settling_.waits() ? std::min<milliseconds>(wait, while_settling) : wait;
    const auto changed = watch_.changes(shortest);
    const auto now = std::chrono::steady_clock::now();
    if (!changed.empty() || now - looked_ >= between_scans || settling_.waits()) look_around(now);
    for (const auto& file : changed) settling_.touched(file, now);
    std::vector<found_image> out;
    for (const auto& file : settling_.ready(now)) look_at_settled(file, now, out);
    return out;
}

void image_watch::look_at_settled(const fs::path& file, steady_point now,
                                  std::vector<found_image>& into) {
    try {
        auto image = read_found_image(file);
        const auto after = look_at(file);
        if (after) settling_.seen(file, *after, now);
        if (!after || !settling_.is_whole(file, image.sha256, now)) return;
        leave_out_old_commit(image);
        into.push_back(std::move(image));
    } catch (const user_error& e) {
        problems_.emplace_back(e.what());
        settling_.leave(file);
    }
}

/// A build that failed to say its commit must not be filed under that of the build before.
void image_watch::leave_out_old_commit(found_image& image) {
    std::error_code failed;
    const auto written = fs::last_write_time(commit_file_of(image.file), failed);
    if (failed) return;
    const auto [last, is_first] = commits_.try_emplace(image.file);
    if (!is_first && last->second.written == written && last->second.sha256 != image.sha256) {
        image.commit.clear();
        problems_.push_back(
            fmt::format("{} was not written anew before this image; what it says is not believed.",
                        quoted(commit_file_of(image.file).string(), 300)));
        return;
    }
    last->second = {image.sha256, written};
}

void image_watch::find_again(const fs::path& file) {
    settling_.touched(file, std::chrono::steady_clock::now());
}

std::vector<std::string> image_watch::problems() {
    return std::exchange(problems_, {});
}

}  // namespace cvrig::service
