#include <archive.h>
#include <archive_entry.h>
#include <fmt/format.h>

#include <array>
#include <fstream>
#include <system_error>

#include "rig/evidence/archive.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

struct freer {
    void operator()(archive* a) const noexcept { archive_write_free(a); }
    void operator()(archive_entry* e) const noexcept { archive_entry_free(e); }
};
using open_archive = std::unique_ptr<archive, freer>;
using new_entry = std::unique_ptr<archive_entry, freer>;

void require(int status, archive* a, const fs::path& to) {
    if (status == ARCHIVE_OK) return;
    const char* why = archive_error_string(a);
    throw user_error{
        fmt::format("The file {} cannot be written: {}; free some space or choose "
                    "another place with -o.",
                    to.string(), why == nullptr ? "the disk may be full" : why)};
}

/// FLAC is as small as it gets.
bool is_compressed(const std::string& name) {
    return name.ends_with(".flac");
}

void begin_member(archive* a, const archive_source& m, std::uintmax_t bytes, const fs::path& to) {
    require(is_compressed(m.name) ? archive_write_zip_set_compression_store(a)
                                  : archive_write_zip_set_compression_deflate(a),
            a, to);
    // No time is set, which ZIP shows as its first day, whatever the time zone.
    const new_entry e{archive_entry_new()};
    archive_entry_set_pathname(e.get(), m.name.c_str());
    archive_entry_set_size(e.get(), static_cast<la_int64_t>(bytes));
    archive_entry_set_filetype(e.get(), AE_IFREG);
    archive_entry_set_perm(e.get(), 0644);
    require(archive_write_header(a, e.get()), a, to);
}

void add_member(archive* a, const archive_source& m, const fs::path& to) {
    std::error_code failed;
    const auto bytes = fs::file_size(m.file, failed);
    std::ifstream in{m.file, std::ios::binary};
    if (failed || !in) throw user_error{fmt::format("cannot read '{}'", m.file.string())};
    begin_member(a, m, bytes, to);
    std::array<char, 65536> block{};
    for (std::uintmax_t left = bytes; left > 0;) {
        const auto wanted = std::min<std::uintmax_t>(left, block.size());
        if (!in.read(block.data(), static_cast<std::streamsize>(wanted)))
            throw user_error{fmt::format("cannot read '{}' to its end", m.file.string())};
        if (archive_write_data(a, block.data(), wanted) != static_cast<la_ssize_t>(wanted))
            require(ARCHIVE_FATAL, a, to);
        left -= wanted;
    }
    require(archive_write_finish_entry(a), a, to);
}

void move_into_place(const fs::path& from, const fs::path& to) {
    std::error_code failed;
    fs::rename(from, to, failed);
    if (failed)
        throw user_error{fmt::format("cannot write '{}': {}", to.string(), failed.message())};
}

}  // namespace

void write_archive(const fs::path& to, std::span<const archive_source> members) {
    const auto folder = to.has_parent_path() ? to.parent_path() : fs::path{"."};
    const temporary_folder beside{folder};
    const auto unfinished = beside.path() / "archive";
    {
        const open_archive a{archive_write_new()};
        require(archive_write_set_format_zip(a.get()), a.get(), to);
        require(archive_write_open_filename(a.get(), unfinished.c_str()), a.get(), to);
        for (const auto& m : members) add_member(a.get(), m, to);
        require(archive_write_close(a.get()), a.get(), to);
    }
    move_into_place(unfinished, to);
}

}  // namespace cvrig::evidence
