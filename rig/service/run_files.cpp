#include "rig/service/run_files.hpp"

#include <algorithm>
#include <fstream>
#include <iterator>
#include <optional>

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t largest_file = std::uintmax_t{512} << 20U;

/// The file itself, with every link on the way to it followed, if that lies in the folder.
std::optional<fs::path> inside(const fs::path& folder, const std::string& name) {
    std::error_code failed;
    if (folder.empty() || name.find('\0') != std::string::npos) return std::nullopt;
    const auto top = fs::canonical(folder, failed);
    if (failed) return std::nullopt;
    const auto file = fs::canonical(top / name, failed);
    if (failed || !fs::is_regular_file(file, failed)) return std::nullopt;
    const auto both = std::mismatch(top.begin(), top.end(), file.begin(), file.end());
    return both.first == top.end() ? std::optional{file} : std::nullopt;
}

/// In a place of its own: the report's script must not reach what the page keeps.
http_answer as_report(std::string bytes) {
    return {200,
            "text/html; charset=utf-8",
            std::move(bytes),
            {{"Content-Security-Policy",
              "sandbox allow-scripts allow-downloads; default-src 'none'; script-src "
              "'unsafe-inline'; style-src 'unsafe-inline'; img-src data:; media-src 'self'; "
              "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"}}};
}

/// A page in a place of its own counts as somebody else's, so its sounds must be free for such.
http_answer as_sound(std::string bytes) {
    return {200, "audio/wav", std::move(bytes), {{"Cross-Origin-Resource-Policy", "cross-origin"}}};
}

}  // namespace

http_answer answer_with_file(const fs::path& folder, const std::string& name) {
    const auto file = inside(folder, name);
    std::error_code failed;
    if (!file || fs::file_size(*file, failed) > largest_file || failed)
        return error_answer(404, "There is no such file of that run.");
    std::ifstream in{*file, std::ios::binary};
    std::string bytes{std::istreambuf_iterator<char>{in}, {}};
    return file->extension() == ".html" ? as_report(std::move(bytes)) : as_sound(std::move(bytes));
}

}  // namespace cvrig::service
