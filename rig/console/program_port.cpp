#include <fmt/format.h>

#include "rig/console/port.hpp"
#include "rig/platform/talking_program.hpp"

namespace cvrig {

namespace {

class program_port : public port {
public:
    explicit program_port(const std::vector<std::string>& command)
        : program_{command}, name_{command.front()} {}

    moved_bytes read_some(std::span<char> into, std::chrono::milliseconds wait) override {
        return program_.read_some(into, wait);
    }
    moved_bytes write(std::string_view bytes, std::chrono::milliseconds wait) override {
        return program_.write(bytes, wait);
    }
    [[nodiscard]] std::string name() const override { return name_; }
    [[nodiscard]] std::string last_words() const override { return program_.complaints(); }
    [[nodiscard]] const std::string& problem() const { return program_.problem(); }

private:
    talking_program program_;
    std::string name_;
};

}  // namespace

opened_port open_program_port(const console_settings& how) {
    auto started = std::make_unique<program_port>(how.command);
    if (auto problem = started->problem(); !problem.empty()) return {nullptr, std::move(problem)};
    return {std::move(started), {}};
}

}  // namespace cvrig
