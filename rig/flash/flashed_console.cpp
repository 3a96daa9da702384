#include "rig/flash/flashed_console.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <memory>
#include <thread>

#include "rig/checks/image_version.hpp"
#include "rig/console/console.hpp"
#include "rig/console/port.hpp"
#include "rig/image/read_image.hpp"
#include "rig/run/console_watch.hpp"

namespace cvrig {

namespace {

using clock = std::chrono::steady_clock;

class waiting {
public:
    waiting(const console_settings& how, const module_expectations& m,
            const std::optional<image_facts>& image, std::stop_token stop)
        : how_{how}, module_{m}, given_{image}, stop_{std::move(stop)} {
        if (image) image_ = read_image(image->bytes);
    }

    flash_proof run() {
        const auto talks = opened();
        if (!module_.console || !module_.console->identity)
            return in_doubt(
                "Which build the module runs was not asked: the expectation file has no 'identity' "
                "in its section 'console'.");
        while (true) {
            const auto wrong = ask(*talks);
            if (wrong.empty())
                return is_proven_ ? flash_proof{{came_back(), said_}} : in_doubt(said_);
            rest_or_give_up(wrong);
        }
    }

private:
    [[nodiscard]] seconds since_begin() const {
        return seconds{std::chrono::duration<double>(clock::now() - begin_).count()};
    }

    [[nodiscard]] std::string came_back() const {
        if (how_.how == console_settings::way::program) return "The console is a program.";
        return fmt::format("The console was back {} after flashing.",
                           show(std::round(back_after_.value() * 10.0) / 10.0, dimension::seconds));
    }

    [[nodiscard]] flash_proof in_doubt(const std::string& why) const {
        return {{came_back(), why}, why};
    }

    std::unique_ptr<console> opened() {
        while (true) {
            try {
                auto talks = open_console(how_, module_.console.value_or(console_rules{}), stop_);
                back_after_ = since_begin();
                return talks;
            } catch (const user_error& e) {
                if (how_.how == console_settings::way::program) throw;
                rest_or_give_up(fmt::format(
                    "The console ({}) did not come back within {} after "
                    "flashing.",
                    port_in_words(how_), show(how_.return_time.value(), dimension::seconds)));
            }
        }
    }

    /// Why the module is not known to run the image; empty if it does, or if that cannot be told.
    std::string ask(console& talks) {
        const auto reply = talks.ask(*module_.console->identity);
        if (!reply.ok)
            return fmt::format("The module's console does not tell its identity after flashing: {}",
                               reply.problem);
        const auto says = version_of(reply);
        if (says.empty()) return tell("The module's identity names no version to compare.");
        if (!given_)
            return tell(
                fmt::format("The module says that it runs version {}; no image was named "
                            "to compare it with.",
                            says));
        const auto match = match_version(*image_, given_->name, module_, says);
        if (!match.doubt.empty())
            return tell("Whether the module runs the image cannot be told: " + match.doubt);
        if (!match.wrong.empty()) return match.wrong;
        is_proven_ = true;
        return tell(
            fmt::format("The module says that it runs version {}, as the image does.", says));
    }

    std::string tell(std::string sentence) {
        said_ = std::move(sentence);
        return {};
    }

    void rest_or_give_up(const std::string& why) const {
        constexpr std::chrono::milliseconds step{100};
        if (stop_.stop_requested())
            throw user_error{"The run was stopped before it was complete; no report was written."};
        if (how_.how == console_settings::way::program || since_begin() >= how_.return_time)
            throw user_error{fmt::format("{} Nothing was judged.", why)};
        std::this_thread::sleep_for(step);
    }

    const console_settings& how_;
    const module_expectations& module_;
    const std::optional<image_facts>& given_;
    std::optional<firmware_image> image_;
    std::stop_token stop_;
    clock::time_point begin_{clock::now()};
    seconds back_after_{0.0};
    std::string said_;
    bool is_proven_{false};
};

}  // namespace

flash_proof await_flashed(const console_settings& console, const module_expectations& m,
                          const std::optional<image_facts>& image, std::stop_token stop) {
    return waiting{console, m, image, std::move(stop)}.run();
}

}  // namespace cvrig
