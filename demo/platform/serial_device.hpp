#pragma once

#include "demo/platform/console_port.hpp"

namespace ferrule {

/// A character device such as the module's end of a USB serial gadget. It tells its end of file
/// when the cable is pulled, and is opened again as soon as that works.
class serial_device : public console_port {
public:
    [[nodiscard]] int number() const noexcept override { return device_.number(); }
    [[nodiscard]] std::string address() const override { return name_; }

protected:
    void open(const std::string& name) override;
    void close() override { device_.close(); }
    bool is_connected() override;
    void hung_up() override;
    [[nodiscard]] int wire() const noexcept override { return device_.number(); }

private:
    void try_to_open();

    descriptor device_;
    int rest_ = 0;  ///< turns until it is tried again
};

}  // namespace ferrule
