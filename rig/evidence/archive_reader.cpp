#include <archive.h>
#include <archive_entry.h>
#include <fmt/format.h>

#include <array>
#include <fstream>
#include <utility>

#include "rig/evidence/archive.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

struct freer {
    void operator()(archive* a) const noexcept { archive_read_free(a); }
};

}  // namespace

struct archive_reader::state {
    fs::path file;
    std::unique_ptr<archive, freer> from{archive_read_new()};
    std::string name{};  ///< of the member that is read

    [[noreturn]] void refuse_damaged() const {
        throw user_error{fmt::format(
            "{} is damaged or cut off{}; have it sent again.", file.string(),
            name.empty() ? "" : fmt::format(" (in its member {})", cvrig::quoted(name)))};
    }

    /// The next bytes of the member; 0 at its end.
    std::size_t read(std::span<char> block) {
        const auto n = archive_read_data(from.get(), block.data(), block.size());
        if (n < 0) refuse_damaged();
        return static_cast<std::size_t>(n);
    }

    /// Hands out the member block by block.
    template <typename Take>
    void read_all(std::uintmax_t most, Take take) {
        std::array<char, 65536> block{};
        std::uintmax_t read_so_far = 0;
        while (const auto n = read(block)) {
            read_so_far += n;
            if (read_so_far > most)
                throw user_error{
                    fmt::format("{} is not to be trusted: its member {} is larger "
                                "than it may be; it was not unpacked.",
                                file.string(), cvrig::quoted(name))};
            take(std::string_view{block.data(), n});
        }
    }
};

archive_reader::archive_reader(fs::path file)
    : state_{std::make_unique<state>(state{.file = std::move(file)})} {
    const auto& path = state_->file;
    std::error_code failed;
    if (!fs::exists(path, failed))
        throw user_error{fmt::format("There is no file {}.", path.string())};
    if (!fs::is_regular_file(path, failed))
        throw user_error{fmt::format("{} is no evidence file; name a file that `cvrig pack` made.",
                                     path.string())};
    archive_read_support_format_zip(state_->from.get());
    constexpr std::size_t block_bytes = 65536;
    if (archive_read_open_filename(state_->from.get(), path.c_str(), block_bytes) != ARCHIVE_OK)
        throw user_error{
            fmt::format("{} is no evidence file, or is damaged at its beginning; name a file that "
                        "`cvrig pack` made.",
                        path.string())};
}

archive_reader::~archive_reader() = default;

std::optional<std::string> archive_reader::next() {
    archive_entry* e = nullptr;
    const int status = archive_read_next_header(state_->from.get(), &e);
    if (status == ARCHIVE_EOF) return std::nullopt;
    if (status != ARCHIVE_OK) state_->refuse_damaged();
    const char* name = archive_entry_pathname(e);
    if (name == nullptr) state_->refuse_damaged();
    state_->name = name;
    if (archive_entry_filetype(e) != AE_IFREG || archive_entry_hardlink(e) != nullptr)
        throw user_error{
            fmt::format("{} is not to be trusted: its member {} is no plain file; it "
                        "was not unpacked.",
                        state_->file.string(), cvrig::quoted(state_->name))};
    return state_->name;
}

std::string archive_reader::text(std::uintmax_t most) {
    std::string out;
    state_->read_all(most, [&](std::string_view block) { out += block; });
    return out;
}

void archive_reader::copy_to(const fs::path& to, std::uintmax_t most) {
    std::ofstream out{to, std::ios::binary | std::ios::trunc};
    state_->read_all(most, [&](std::string_view block) {
        out.write(block.data(), static_cast<std::streamsize>(block.size()));
    });
    out.close();
    if (!out)
        throw user_error{
            fmt::format("cannot write '{}': the disk may be full; free some space", to.string())};
}

}  // namespace cvrig::evidence
