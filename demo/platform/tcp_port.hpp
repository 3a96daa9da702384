#pragma once

#include "demo/platform/console_port.hpp"

#include <cstdint>

namespace ferrule {

/// A TCP port on 127.0.0.1, for one client at a time; the next waits until it has gone.
class tcp_port : public console_port {
public:
    [[nodiscard]] int number() const noexcept override;
    [[nodiscard]] std::string address() const override;

protected:
    void open(const std::string& name) override;
    void close() override;
    bool is_connected() override;
    void hung_up() override { client_.close(); }
    [[nodiscard]] int wire() const noexcept override { return client_.number(); }

private:
    descriptor listener_;
    descriptor client_;
    std::uint16_t port_ = 0;
};

}  // namespace ferrule
