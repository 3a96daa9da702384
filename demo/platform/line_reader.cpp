#include "demo/platform/line_reader.hpp"

#include <poll.h>
#include <unistd.h>

#include <array>

namespace ferrule {

void line_cutter::add(std::string_view bytes) {
    bytes_ += bytes;
    // A line that never ends must not fill the memory: its beginning is forgotten.
    if (bytes_.size() > 2 * longest_line && bytes_.find_first_of("\r\n") == std::string::npos) {
        bytes_.erase(0, bytes_.size() - longest_line);
    }
}

std::optional<std::string> line_cutter::next() {
    const auto begin = bytes_.find_first_not_of("\r\n");
    if (begin == std::string::npos) {
        bytes_.clear();
        return std::nullopt;
    }
    const auto end = bytes_.find_first_of("\r\n", begin);
    if (end == std::string::npos) return std::nullopt;
    auto line = bytes_.substr(begin, end - begin);
    bytes_.erase(0, end);
    return line;
}

std::optional<std::string> line_reader::next() {
    while (number_ >= 0) {
        pollfd watched{number_, POLLIN, 0};
        if (::poll(&watched, 1, 0) <= 0) break;
        std::array<char, 1024> piece{};
        const auto count = ::read(number_, piece.data(), piece.size());
        if (count <= 0) {
            number_ = -1;
        } else {
            cutter_.add({piece.data(), static_cast<std::size_t>(count)});
        }
    }
    return cutter_.next();
}

}  // namespace ferrule
