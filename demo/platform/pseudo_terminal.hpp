#pragma once

#include "demo/platform/console_port.hpp"

namespace ferrule {

/// A pseudo-terminal in raw mode, with a symbolic link that names it.
class pseudo_terminal : public console_port {
public:
    ~pseudo_terminal() override;

    [[nodiscard]] int number() const noexcept override { return met_ ? master_.number() : -1; }
    [[nodiscard]] std::string address() const override { return terminal_; }

protected:
    void open(const std::string& name) override;
    void close() override;
    bool is_connected() override;
    bool is_heard() override;
    void hung_up() override;
    [[nodiscard]] int wire() const noexcept override { return master_.number(); }

private:
    void forget_unread() const;

    descriptor master_;
    std::string terminal_;
    bool met_ = false;  ///< someone has it open
};

}  // namespace ferrule
