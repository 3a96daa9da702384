#pragma once

#include <utility>

#include "rig/console/port.hpp"

namespace cvrig {

/// A port that is nothing but a stream of bytes.
class stream_port : public port {
public:
    stream_port(byte_stream stream, std::string name)
        : stream_{std::move(stream)}, name_{std::move(name)} {}

    moved_bytes read_some(std::span<char> into, std::chrono::milliseconds wait) override {
        return stream_.read_some(into, wait);
    }
    moved_bytes write(std::string_view bytes, std::chrono::milliseconds wait) override {
        return stream_.write(bytes, wait);
    }
    [[nodiscard]] std::string name() const override { return name_; }

private:
    byte_stream stream_;
    std::string name_;
};

}  // namespace cvrig
