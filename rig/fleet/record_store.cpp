#include "rig/fleet/record_store.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cstdint>
#include <fstream>
#include <set>
#include <sstream>

#include "rig/expectations/user_error.hpp"
#include "rig/fleet/record_json.hpp"
#include "rig/platform/files.hpp"
#include "rig/run/plain_name.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

/// A name that is one step of a path on any file system, whatever the text.
std::string step_of_path(const std::string& text) {
    constexpr std::size_t longest = 100;
    constexpr std::size_t hash_digits = 8;
    auto name = plain_name(text);
    // "..", ".hidden" and "" are no names of folders that anybody would find.
    if (name.empty() || name.front() == '.') name.insert(0, 1, '-');
    if (name.size() > longest)
        name = name.substr(0, longest) + "-" + sha256_of(text).substr(0, hash_digits);
    return name;
}

/// As ISO 8601 writes it without colons, which not every file system bears.
std::string time_in_name(std::string started) {
    std::erase(started, ':');
    return started;
}

void make_folder(const fs::path& folder) {
    std::error_code error;
    fs::create_directories(folder, error);
    if (error || !fs::is_directory(folder))
        throw user_error{fmt::format(
            "The folder {} for tracking records cannot be made: {}; choose another with --runs.",
            folder.string(), error ? error.message() : "a file of that name is in the way")};
}

std::vector<fs::path> files_below(const fs::path& folder) {
    std::error_code error;
    if (fs::is_regular_file(folder, error)) return {folder};
    std::vector<fs::path> files;
    fs::recursive_directory_iterator at{folder, error};
    while (!error && at != fs::recursive_directory_iterator{}) {
        if (at->is_regular_file(error) && at->path().extension() == ".json")
            files.push_back(at->path());
        at.increment(error);
    }
    if (error)
        throw user_error{
            fmt::format("The folder {} cannot be read: {}; name a folder that `cvrig "
                        "run --runs` has filled.",
                        folder.string(), error.message())};
    std::ranges::sort(files);
    return files;
}

parsed_record read_record(const fs::path& file) {
    constexpr std::uintmax_t most = std::uintmax_t{16} << 20;
    std::error_code error;
    if (fs::file_size(file, error) > most || error)
        return {{}, error ? error.message() : "it is larger than 16 MiB"};
    std::ifstream in{file, std::ios::binary};
    std::ostringstream text;
    text << in.rdbuf();
    if (!in) return {{}, "it cannot be read"};
    return parse_record(text.str());
}

class reader {
public:
    void add(const fs::path& file) {
        // Folders that overlap show the same file twice, which is no copy.
        if (!seen_.insert(fs::weakly_canonical(file)).second) return;
        auto parsed = read_record(file);
        if (!parsed.wrong.empty()) {
            read_.broken.push_back(
                fmt::format("{} is no tracking record: {}.", file.string(), parsed.wrong));
            return;
        }
        const auto same = std::ranges::find(read_.records, parsed.record, &filed_record::record);
        if (same == read_.records.end())
            read_.records.push_back({file, std::move(parsed.record)});
        else
            read_.repeated.push_back(fmt::format("{} is a copy of {}; it counts once.",
                                                 file.string(), same->file.string()));
    }
    [[nodiscard]] records_read take() && { return std::move(read_); }

private:
    std::set<fs::path> seen_;
    records_read read_;
};

}  // namespace

void prepare_record_folder(const fs::path& folder) {
    make_folder(folder);
    const auto trial = folder / "trial.tmp";
    write_file_atomically(trial, "trial\n");
    std::error_code ignored;
    fs::remove(trial, ignored);
}

fs::path file_record(const fs::path& folder, const tracking_record& r) {
    assert(!r.notes.empty() && !r.module.empty() && !r.unit.empty() && !r.build.empty());
    const auto place =
        folder / step_of_path(r.module) / step_of_path(r.unit) / step_of_path(r.build);
    make_folder(place);
    const auto name =
        fmt::format("{}-{}", step_of_path(time_in_name(r.started)), step_of_path(r.occasion));
    const auto text = json_of(r);
    for (int n = 1;; ++n) {
        const auto file = place / (n == 1 ? name + ".json" : fmt::format("{}-{}.json", name, n));
        if (write_new_file(file, text)) return file;
    }
}

records_read read_records(std::span<const fs::path> folders) {
    reader all;
    for (const auto& folder : folders)
        for (const auto& file : files_below(folder)) all.add(file);
    return std::move(all).take();
}

}  // namespace cvrig
