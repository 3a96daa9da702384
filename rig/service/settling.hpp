#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace cvrig::service {

using steady_point = std::chrono::steady_clock::time_point;

/// A file as a folder lists it.
struct file_look {
    std::uintmax_t size{0};
    std::filesystem::file_time_type changed{};

    friend bool operator==(const file_look&, const file_look&) = default;
};

/// Which files have been left alone long enough to be read: whoever writes one may pause.
///
/// A file is quiet once neither its size nor its time has changed, nor the system told of a change,
/// for 0.5 s. It is whole if its bytes are then the same at two looks, 0.2 s or more apart, with no
/// change between them.
class settling_files {
public:
    void touched(const std::filesystem::path& file, steady_point now);
    void seen(const std::filesystem::path& file, const file_look& look, steady_point now);
    void gone(const std::filesystem::path& file);

    /// Files whose bytes are to be looked at now.
    [[nodiscard]] std::vector<std::filesystem::path> ready(steady_point now) const;

    /// What such a look found: true if the file is whole, after which it is left alone until it
    /// changes again.
    [[nodiscard]] bool is_whole(const std::filesystem::path& file, const std::string& sha256,
                                steady_point now);

    /// Nothing more is to be done about it until it changes.
    void leave(const std::filesystem::path& file);

    /// Whether something has not settled yet.
    [[nodiscard]] bool waits() const;

private:
    struct watched {
        file_look look;
        steady_point changed{};
        std::string first_look;  ///< SHA-256; empty: none yet
        steady_point first_looked{};
        bool left{false};
    };
    std::map<std::filesystem::path, watched> files_;
};

}  // namespace cvrig::service
