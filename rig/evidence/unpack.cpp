#include "rig/evidence/unpack.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <map>
#include <set>
#include <sstream>

#include "rig/evidence/archive.hpp"
#include "rig/evidence/member_name.hpp"
#include "rig/evidence/pack_run.hpp"
#include "rig/evidence/pack_sound.hpp"
#include "rig/expectations/text_file.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/expectations/yaml_tree.hpp"
#include "rig/platform/files.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t most_manifest_bytes = std::uintmax_t{1} << 26U;

[[noreturn]] void refuse(const fs::path& file, const std::string& why) {
    throw user_error{fmt::format("{} {}; have it made or sent again.", file.string(), why)};
}

std::string read_manifest_text(archive_reader& from, const fs::path& file) {
    const auto first = from.next();
    if (!first || *first != member::manifest)
        throw user_error{
            fmt::format("{} is no evidence file: it does not begin with a manifest; name a "
                        "file that `cvrig pack` made.",
                        file.string())};
    return from.text(most_manifest_bytes);
}

void require_room(const manifest& m, const fs::path& folder) {
    double needed = 0.0;
    for (const auto& one : m.members) {
        needed += static_cast<double>(one.bytes);
        if (one.sound)
            needed += 4.0 * static_cast<double>(one.sound->frames * one.sound->channels.size());
    }
    std::error_code failed;
    const auto space = fs::space(folder, failed);
    if (!failed && needed > static_cast<double>(space.available))
        throw user_error{fmt::format(
            "Unpacked, this evidence needs {:.1f} GB, and {} has room for {:.1f} "
            "GB; choose another folder with -r.",
            needed * 1e-9, folder.string(), static_cast<double>(space.available) * 1e-9)};
}

/// Where a member lies while it is checked.
fs::path place_of(const fs::path& folder, const std::string& member) {
    return folder / (member == member::report ? std::string{packed_report_name} : member);
}

void take_out(archive_reader& from, const packed_member& m, const fs::path& file,
              const fs::path& folder) {
    const auto to = place_of(folder, m.name);
    fs::create_directories(to.parent_path());
    from.copy_to(to, m.bytes);
    if (fs::file_size(to) != m.bytes || sha256_of_file(to) != m.sha256)
        refuse(file, fmt::format("is damaged: its member {} is not what the manifest says",
                                 cvrig::quoted(m.name)));
}

void take_out_all(archive_reader& from, const manifest& m, const fs::path& file,
                  const fs::path& folder) {
    std::set<std::string> seen;
    while (const auto name = from.next()) {
        const auto* told = m.find(*name);
        if (told == nullptr)
            refuse(file,
                   fmt::format("is not to be trusted: it holds {}, of which the manifest does not "
                               "tell",
                               cvrig::quoted(*name)));
        if (!seen.insert(*name).second)
            refuse(file,
                   fmt::format("is not to be trusted: it holds {} twice", cvrig::quoted(*name)));
        take_out(from, *told, file, folder);
    }
    for (const auto& one : m.members)
        if (!seen.contains(one.name))
            refuse(file, fmt::format("is damaged or cut off: its member {} is missing",
                                     cvrig::quoted(one.name)));
}

/// The bench file must not make a reader open files elsewhere.
void require_own_trim(const fs::path& file, const fs::path& folder) {
    complaint_list wrong;
    const auto bench = (folder / member::bench).string();
    const auto root = read_yaml(read_text_file(bench), bench, wrong);
    const auto* trim = root.find("trim");
    if (trim != nullptr && (trim->text != member::trim || !fs::exists(folder / member::trim)))
        refuse(file,
               "is not to be trusted: its bench file names trim constants that are not inside");
}

/// The sounds of the takes become WAV files, as a run keeps them.
void decode_sounds(const manifest& m, const fs::path& folder) {
    std::map<fs::path, std::vector<packed_member>> by_take;
    for (const auto& one : m.members)
        if (one.sound) {
            const auto* kind = is_stimulus(one.name) ? "stimulus.wav" : "response.wav";
            by_take[fs::path{take_of(one.name)} / kind].push_back(one);
        }
    for (const auto& [wave, parts] : by_take) {
        std::vector<fs::path> files;
        for (const auto& part : parts) files.push_back(folder / part.name);
        write_wave_file(folder / wave, unpack_sound(parts, files));
        for (const auto& file : files) fs::remove(file);
    }
}

std::string text_of(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

/// Whether a folder holds what an earlier opening put there: a file of that name alone says nothing, since
/// others name theirs so as well.
bool is_of_an_opening(const fs::path& folder) {
    const auto file = folder / member::manifest;
    if (!fs::is_regular_file(file) || fs::file_size(file) > most_manifest_bytes) return false;
    try {
        (void)read_manifest(text_of(file), file.string());
    } catch (const user_error&) {
        return false;
    }
    return true;
}

/// A folder that somebody uses for something else is left alone.
void require_free(const fs::path& folder) {
    if (!fs::exists(folder)) return;
    if (!fs::is_directory(folder))
        throw user_error{fmt::format("{} is a file; choose a folder with -r.", folder.string())};
    if (!fs::is_empty(folder) && !is_of_an_opening(folder))
        throw user_error{fmt::format("The folder {} holds other things; choose a new one with -r.",
                                     folder.string())};
}

/// Moves what was unpacked into the folder, in place of what an earlier opening put there.
void move_into(const fs::path& folder, const fs::path& from) {
    fs::create_directories(folder);
    for (const auto name : {member::expectations, member::bench, member::trim, member::run,
                            member::facts, member::image, member::log})
        fs::remove(folder / name);
    fs::remove_all(folder / "takes");
    for (const auto& entry : fs::directory_iterator{from})
        fs::rename(entry.path(), folder / entry.path().filename());
}

fs::path parent_of(const fs::path& folder) {
    const auto whole = fs::absolute(folder).lexically_normal();
    return whole.has_filename() ? whole.parent_path() : whole.parent_path().parent_path();
}

}  // namespace

fs::path folder_for_opening(const fs::path& file) {
    auto out = file;
    return out.replace_filename(file.stem().string() + "-opened");
}

void name_originals(told_run& told, const fs::path& folder) {
    const auto file = folder / member::manifest;
    if (!fs::exists(file)) return;
    const auto m = read_manifest(text_of(file), file.string());
    const auto rename = [&](std::string& sha256, std::string_view name,
                            const std::string& original) {
        if (sha256 == m.find(name)->sha256) sha256 = original;
    };
    rename(told.expectations_sha256, member::expectations, m.expectations_sha256);
    rename(told.bench_sha256, member::bench, m.bench_sha256);
}

unpacked_run unpack(const fs::path& file, const fs::path& folder) {
    archive_reader from{file};
    const auto text = read_manifest_text(from, file);
    unpacked_run out{read_manifest(text, file.string()), sha256_of(text), {}};
    require_free(folder);
    const temporary_folder working{parent_of(folder)};
    require_room(out.what, working.path());
    const auto fresh = working.path() / "run";
    fs::create_directories(fresh / "takes");
    take_out_all(from, out.what, file, fresh);
    require_own_trim(file, fresh);
    decode_sounds(out.what, fresh);
    const auto report = fresh / packed_report_name;
    out.told = read_report(text_of(report), fmt::format("report.json of {}", file.string()));
    write_file_atomically(fresh / member::manifest, text, durability::unsynced);
    move_into(folder, fresh);
    return out;
}

}  // namespace cvrig::evidence
