#pragma once

#include <unistd.h>

#include <utility>

namespace ferrule {

/// Owns one open file descriptor.
class descriptor {
public:
    descriptor() noexcept = default;
    explicit descriptor(int number) noexcept : number_{number} {}
    descriptor(descriptor&& other) noexcept : number_{std::exchange(other.number_, -1)} {}
    descriptor& operator=(descriptor&& other) noexcept {
        if (this != &other) {
            close();
            number_ = std::exchange(other.number_, -1);
        }
        return *this;
    }
    descriptor(const descriptor&) = delete;
    descriptor& operator=(const descriptor&) = delete;
    ~descriptor() { close(); }

    [[nodiscard]] int number() const noexcept { return number_; }
    [[nodiscard]] bool is_open() const noexcept { return number_ >= 0; }
    void close() noexcept {
        if (number_ >= 0) ::close(std::exchange(number_, -1));
    }

private:
    int number_ = -1;
};

}  // namespace ferrule
