#include "rig/console/line_console.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using std::chrono::milliseconds;

milliseconds in_ms(seconds s) {
    return std::chrono::duration_cast<milliseconds>(std::chrono::duration<double>(s.value()));
}

constexpr milliseconds time_for_a_second_answer{150};

void rest(std::chrono::nanoseconds time, const std::stop_token& over) {
    constexpr std::chrono::nanoseconds step = milliseconds{20};
    while (time.count() > 0 && !over.stop_requested()) {
        std::this_thread::sleep_for(std::min(time, step));
        time -= step;
    }
}

}  // namespace

line_console::line_console(console_settings how, console_rules rules, std::stop_token stop,
                           opener open)
    : how_{std::move(how)},
      rules_{std::move(rules)},
      stop_{std::move(stop)},
      open_{std::move(open)},
      talk_{rules_, how_.return_time} {
    auto opened = open_();
    if (!opened.open)
        throw user_error{
            std::vector{complaint{how_.where, fmt::format("The console ({}) cannot be opened: {}.",
                                                          description(), opened.problem)}}};
    port_ = std::move(opened.open);
    talk_.opened(port_->name());
    reader_ = std::jthread{[this](const std::stop_token& over) { listen(over); }};
}

line_console::~line_console() = default;

void line_console::listen(const std::stop_token& over) {
    while (!over.stop_requested()) {
        if (const auto from = current_port()) {
            take_in(*from, over);
        } else {
            look_for_port(over);
        }
    }
}

/// A module that babbles gets a twentieth of one processor, or all of it while a reply is awaited.
void line_console::take_in(port& from, const std::stop_token& over) {
    constexpr milliseconds wait{20};
    constexpr milliseconds silence{500};
    constexpr int rest_for_work = 19;
    constexpr std::chrono::nanoseconds longest_rest = milliseconds{20};
    std::array<char, 16384> chunk;  // NOLINT(cppcoreguidelines-pro-type-member-init): is filled
    const auto begin = clock::now();
    const auto got = from.read_some(chunk, wait);
    const auto arrived = clock::now();
    if (got.count > 0) {
        talk_.arrived(got.count);
        talk_.heard(lines_.add({chunk.data(), got.count}));
        last_heard_ = arrived;
        told_unfinished_ = false;
    } else if (!told_unfinished_ && arrived - last_heard_ > silence) {
        told_unfinished_ = true;
        if (const auto part = lines_.unfinished(); !part.empty()) talk_.unfinished(part);
    }
    if (got.gone) {
        lose_port();
    } else if (got.count > 0 && !talk_.is_asking()) {
        rest(std::min(rest_for_work * (clock::now() - arrived), longest_rest), over);
    } else if (got.count == 0 && arrived - begin < milliseconds{1}) {
        rest(wait, over);  // a port that says "readable" and gives nothing
    }
}

void line_console::lose_port() {
    if (const auto part = lines_.finish(); !part.empty()) talk_.heard({part});
    shared_port lost;
    {
        const std::lock_guard lock{port_mutex_};
        lost = std::move(port_);
        broken_line_ = false;
    }
    lost_at_ = clock::now();
    told_missing_ = false;
    talk_.went_away(lost->name(), lost->last_words());
}

/// Often at first, later now and then.
void line_console::look_for_port(const std::stop_token& over) {
    constexpr milliseconds soon{100};
    constexpr milliseconds late{1000};
    auto opened = open_();
    if (opened.open) {
        const auto name = opened.open->name();
        {
            const std::lock_guard lock{port_mutex_};
            port_ = std::move(opened.open);
        }
        talk_.came_back(name);
        return;
    }
    if (!told_missing_ && clock::now() - lost_at_ > in_ms(how_.return_time)) {
        told_missing_ = true;
        talk_.stays_away();
    }
    rest(told_missing_ ? late : soon, over);
}

bool line_console::has_broken_line() const {
    const std::lock_guard lock{port_mutex_};
    return broken_line_;
}

line_console::shared_port line_console::current_port() const {
    const std::lock_guard lock{port_mutex_};
    return port_;
}

line_console::shared_port line_console::await_port(const std::stop_token& stop) const {
    constexpr milliseconds step{20};
    const auto end = clock::now() + in_ms(how_.return_time);
    auto there = current_port();
    while (!there && clock::now() < end && !stop.stop_requested()) {
        rest(step, stop);
        there = current_port();
    }
    return there;
}

/// The reading thread finds out by itself that a port is gone; until then another try would only be
/// wasted on it.
void line_console::await_loss_of(const shared_port& gone, const std::stop_token& stop) const {
    constexpr milliseconds step{5};
    const auto end = clock::now() + in_ms(rules_.time_limit);
    while (current_port() == gone && clock::now() < end && !stop.stop_requested()) rest(step, stop);
}

line_console::sending line_console::send(const std::string& line) {
    const auto to = await_port(stop_);
    if (stop_.stop_requested()) return {"The run was stopped."};
    if (!to)
        return {fmt::format("The console ({}) is gone and did not come back within {:g} s.",
                            description(), how_.return_time.value()),
                true};
    // What stands half-written at the other side must not become a part of this line.
    const auto bytes = (has_broken_line() ? how_.line_end : std::string{}) + line + how_.line_end;
    const auto sent = to->write(bytes, in_ms(rules_.time_limit));
    {
        const std::lock_guard lock{port_mutex_};
        // Of a port that has been let go of, nothing is left over.
        broken_line_ = port_ == to && sent.count > 0 && sent.count < bytes.size();
    }
    if (sent.count == bytes.size()) return {};
    if (sent.gone) {
        await_loss_of(to, stop_);
        return {fmt::format("The console ({}) went away.", description())};
    }
    return {fmt::format("The module did not read {} within {:g} s.", cvrig::quoted(line),
                        rules_.time_limit.value())};
}

std::string line_console::why_not(const dialogue_line& line,
                                  const conversation::outcome& what) const {
    using end = conversation::end;
    const auto sent = cvrig::quoted(line.send);
    if (what.how == end::stopped) return "The run was stopped.";
    if (what.how == end::gone)
        return fmt::format("The console ({}) went away before the module answered {}.",
                           description(), sent);
    if (what.how == end::restarted)
        return fmt::format("The module restarted instead of answering {}.", sent);
    if (what.line.empty())
        return fmt::format(
            "The module did not answer {} within {:g} s, asked {}; check that it runs and that "
            "this is its console.",
            sent, rules_.time_limit.value(),
            rules_.retries == 0 ? "once" : fmt::format("{} times", rules_.retries + 1));
    return fmt::format("The module answered {} with {}, and {} is wanted.", sent,
                       cvrig::quoted(what.line), cvrig::quoted(line.expect.value_or("")));
}

console_reply line_console::ask(const dialogue_line& line) {
    conversation::question wanted;
    if (line.expect) {
        auto parsed = expression::parse(*line.expect);
        if (!parsed)
            return {false,
                    {},
                    {},
                    fmt::format("{} is no regular expression: {}.", cvrig::quoted(*line.expect),
                                parsed.error())};
        wanted = std::make_shared<const expression>(std::move(*parsed));
    }
    console_reply reply;
    for (int attempt = 0; attempt <= rules_.retries && !stop_.stop_requested(); ++attempt) {
        talk_.begin_question(line.send, wanted);
        const auto sent = send(line.send);
        reply.problem = sent.problem;
        reply.is_silence = false;
        bool wrong_answer = false;
        if (reply.problem.empty() && !wanted) {
            reply.ok = true;
        } else if (reply.problem.empty()) {
            auto what = talk_.await_reply(clock::now() + in_ms(rules_.time_limit), stop_);
            reply.ok = what.how == conversation::end::answered;
            if (!reply.ok) reply.problem = why_not(line, what);
            wrong_answer = what.how == conversation::end::timed_out && !what.line.empty();
            reply.is_silence = what.how == conversation::end::timed_out && what.line.empty();
            reply.line = std::move(what.line);
            reply.captures = std::move(what.captures);
        }
        talk_.end_question();
        if (reply.ok) {
            // A module that was asked twice may answer twice; the second is no answer to what comes next.
            if (attempt > 0) rest(time_for_a_second_answer, stop_);
            return reply;
        }
        talk_.note(reply.problem);
        // Another answer is an answer. Asked again, a queue of errors would give its next one.
        // And for a port that stays away, once is long enough.
        if (wrong_answer || sent.waited_in_vain) return reply;
    }
    if (reply.problem.empty()) reply.problem = "The run was stopped.";
    return reply;
}

std::unique_ptr<console> open_console(const console_settings& how, const console_rules& rules,
                                      std::stop_token stop) {
    return std::make_unique<line_console>(how, rules, std::move(stop),
                                          [how] { return open_port(how); });
}

}  // namespace cvrig
