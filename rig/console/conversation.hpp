#pragma once

#include <chrono>
#include <condition_variable>
#include <memory>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/console/console.hpp"
#include "rig/console/console_log.hpp"
#include "rig/expectations/expression.hpp"

namespace cvrig {

/// What is said between the rig and the module: tells replies from what comes unasked, restarts
/// from other lines, and keeps the log. One thread reports what arrives, another asks.
class conversation {
public:
    using clock = console_log::clock;
    using question = std::shared_ptr<const expression>;

    /// `return_time` is how long a restart that is expected may take.
    conversation(const console_rules& rules, seconds return_time);

    // What the reading thread reports.
    void opened(const std::string& name);
    void arrived(std::size_t bytes);  ///< whatever they are; before heard()
    void heard(const std::vector<std::string>& lines);
    void unfinished(const std::string& line);
    void went_away(const std::string& name, const std::string& last_words);
    void came_back(const std::string& name);
    void stays_away();

    // What the asking thread does.
    enum class end { answered, restarted, gone, timed_out, stopped };
    struct outcome {
        end how;
        std::string line;  ///< that matched, or the last that did not
        std::vector<std::string> captures;
    };
    /// From now on a line that matches is the reply; the line that is sent goes into the log.
    void begin_question(const std::string& sent, question wanted);
    [[nodiscard]] outcome await_reply(clock::time_point until, const std::stop_token& stop);
    void end_question();
    void note(const std::string& sentence);

    [[nodiscard]] bool is_asking() const;
    void mark();
    [[nodiscard]] console_record record() const;
    [[nodiscard]] console_record cut();
    void expect_reset();
    [[nodiscard]] std::size_t restarts() const;

private:
    struct sorted_line;
    struct sentences {
        std::vector<std::string> first;
        std::size_t more{0};

        void add(std::string sentence);
        [[nodiscard]] std::vector<std::string> all(std::string_view what) const;
    };
    struct asked {
        question wanted;
        std::string sent;  ///< as it would be echoed
        std::optional<std::string> reply;
        std::vector<std::string> captures;
        std::string other;
        bool restarted{false};
        bool gone{false};
    };

    [[nodiscard]] std::vector<sorted_line> sorted(const std::vector<std::string>& lines) const;
    void take_in(const sorted_line& line, clock::time_point now);
    void restarted(const std::string& banner, clock::time_point now);
    [[nodiscard]] bool is_caused(clock::time_point now) const;
    [[nodiscard]] std::string time_of(clock::time_point at) const;
    [[nodiscard]] console_record record_now() const;
    void count(std::size_t lines, std::size_t bytes, clock::time_point now);
    [[nodiscard]] std::vector<std::string> doubts() const;
    void forget();

    std::optional<expression> banner_;
    clock::duration grace_;

    mutable std::mutex mutex_;
    std::condition_variable_any changed_;
    console_log log_;
    sentences resets_;
    sentences doubts_;
    sentences problems_;
    double most_unasked_per_second_;
    // Of the second that runs, and of the worst one since the mark. Every second counts by itself: a
    // flood of one must not drown in a quiet minute.
    clock::time_point second_began_;
    std::size_t lines_{0}, bytes_{0};
    std::size_t most_in_a_second_{0};
    std::optional<asked> asked_;
    clock::time_point zero_;
    std::optional<clock::time_point> opening_until_;  ///< a banner may follow from the opening
    std::optional<clock::time_point> caused_until_;   ///< or from what the rig did
    std::optional<clock::time_point> away_since_;
    bool away_is_caused_{false};
    std::size_t restarts_{0};
};

}  // namespace cvrig
