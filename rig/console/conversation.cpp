#include "rig/console/conversation.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "rig/console/line_assembler.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr std::size_t most_sentences = 10;

double seconds_between(console_log::clock::time_point from, console_log::clock::time_point to) {
    return std::chrono::duration<double>(to - from).count();
}

}  // namespace

/// A line with what it turned out to be.
struct conversation::sorted_line {
    const std::string& text;
    bool is_banner{false};
    question asked;                                   ///< the question it was held against
    std::optional<std::vector<std::string>> matched;  ///< its captures if it is the reply
};

void conversation::sentences::add(std::string sentence) {
    if (first.size() < most_sentences) {
        first.push_back(std::move(sentence));
    } else {
        ++more;
    }
}

std::vector<std::string> conversation::sentences::all(std::string_view what) const {
    auto out = first;
    if (more > 0) out.push_back(fmt::format("The same happened {} more times: {}.", more, what));
    return out;
}

conversation::conversation(const console_rules& rules, seconds return_time)
    : grace_{std::chrono::duration_cast<clock::duration>(
          std::chrono::duration<double>(return_time.value()))},
      most_unasked_per_second_{rules.unasked_lines_per_second},
      zero_{clock::now()} {
    if (!rules.boot_banner) return;
    auto banner = expression::parse(*rules.boot_banner);
    if (banner) banner_ = std::move(*banner);
}

std::string conversation::time_of(clock::time_point at) const {
    return fmt::format("{:+.3f} s", seconds_between(zero_, at));
}

bool conversation::is_caused(clock::time_point now) const {
    return caused_until_ && now <= *caused_until_;
}

void conversation::opened(const std::string& name) {
    const std::lock_guard lock{mutex_};
    log_.noted(clock::now(), '*', fmt::format("the console is open ({})", name));
    opening_until_ = clock::now() + grace_;
}

/// Matching takes its time, so it is done before anybody has to wait for it.
std::vector<conversation::sorted_line> conversation::sorted(
    const std::vector<std::string>& lines) const {
    question wanted;
    {
        const std::lock_guard lock{mutex_};
        if (asked_ && !asked_->reply) wanted = asked_->wanted;
    }
    std::vector<sorted_line> out;
    out.reserve(lines.size());
    for (const auto& line : lines) {
        sorted_line s{.text = line, .is_banner = false, .asked = wanted, .matched = {}};
        const auto bare = bare_text(line);
        s.is_banner = banner_ && banner_->match(bare);
        if (!s.is_banner && wanted) s.matched = wanted->match(bare);
        if (s.matched) wanted.reset();  // one question has one reply
        out.push_back(std::move(s));
    }
    return out;
}

void conversation::heard(const std::vector<std::string>& lines) {
    if (lines.empty()) return;
    const auto all = sorted(lines);
    const std::lock_guard lock{mutex_};
    const auto now = clock::now();
    for (const auto& line : all) take_in(line, now);
    changed_.notify_all();
}

void conversation::take_in(const sorted_line& line, clock::time_point now) {
    if (line.is_banner) {
        restarted(line.text, now);
        return;
    }
    const bool same_question = asked_ && asked_->wanted == line.asked && !asked_->reply;
    if (line.matched && same_question) {
        asked_->reply = line.text;
        asked_->captures = *line.matched;
        opening_until_.reset();  // who answers has started, so that from now on a banner is news
        log_.noted(now, '<', line.text);
        return;
    }
    const bool echo = asked_ && bare_text(line.text) == bare_text(asked_->sent);
    if (asked_ && !asked_->reply && !echo) asked_->other = line.text;
    count(1, 0, now);
    log_.heard(now, line.text);
}

void conversation::restarted(const std::string& banner, clock::time_point now) {
    ++restarts_;
    if (asked_) asked_->restarted = true;
    const bool expected = is_caused(now) || (opening_until_ && now <= *opening_until_);
    opening_until_.reset();
    caused_until_.reset();
    log_.noted(now, '<', banner);
    if (expected) return;
    log_.noted(now, '*', "the module has restarted, and nobody had asked for that");
    resets_.add(
        fmt::format("The module restarted by itself at {} of the console's log: it sent {}.",
                    time_of(now), cvrig::quoted(banner)));
}

void conversation::unfinished(const std::string& line) {
    const std::lock_guard lock{mutex_};
    log_.noted(clock::now(), '<', line + " [without a line end]");
    if (asked_ && !asked_->reply) asked_->other = line + " (without a line end)";
}

void conversation::went_away(const std::string& name, const std::string& last_words) {
    const std::lock_guard lock{mutex_};
    const auto now = clock::now();
    away_since_ = now;
    away_is_caused_ = is_caused(now);
    if (asked_) asked_->gone = true;
    log_.noted(now, '*', fmt::format("the console went away ({})", name));
    changed_.notify_all();
    if (is_caused(now)) return;
    problems_.add(fmt::format(
        "The console ({}) went away at {} of its log{}.", name, time_of(now),
        last_words.empty() ? "" : "; it last complained: " + cvrig::quoted(squeezed(last_words))));
}

void conversation::came_back(const std::string& name) {
    const std::lock_guard lock{mutex_};
    const auto now = clock::now();
    const double away = away_since_ ? seconds_between(*away_since_, now) : 0.0;
    const bool caused = is_caused(now) || (away_since_ && away_is_caused_);
    away_since_.reset();
    ++restarts_;
    log_.noted(now, '*', fmt::format("the console came back after {:.3f} s ({})", away, name));
    changed_.notify_all();
    if (caused) return;
    problems_.add(fmt::format("The console came back at {} of its log, after {:.3f} s, as {}.",
                              time_of(now), away, name));
    doubts_.add(
        fmt::format("The console was gone for {:.3f} s until {} of its log: whether the module "
                    "restarted meanwhile, nobody heard; look at its USB cable and its power, and "
                    "run again.",
                    away, time_of(now)));
}

void conversation::stays_away() {
    const std::lock_guard lock{mutex_};
    problems_.add(
        fmt::format("The console did not come back within {:g} s; look at its cable and "
                    "at the module's power.",
                    std::chrono::duration<double>(grace_).count()));
    changed_.notify_all();
}

void conversation::begin_question(const std::string& sent, question wanted) {
    const std::lock_guard lock{mutex_};
    asked_ = asked{};
    asked_->sent = spelled_out(sent);
    log_.noted(clock::now(), '>', asked_->sent);
    asked_->wanted = std::move(wanted);
}

conversation::outcome conversation::await_reply(clock::time_point until,
                                                const std::stop_token& stop) {
    std::unique_lock lock{mutex_};
    changed_.wait_until(lock, stop, until,
                        [&] { return asked_->reply || asked_->restarted || asked_->gone; });
    if (asked_->reply) return {end::answered, *asked_->reply, asked_->captures};
    const auto how = stop.stop_requested() ? end::stopped
                     : asked_->gone        ? end::gone
                     : asked_->restarted   ? end::restarted
                                           : end::timed_out;
    return {how, asked_->other, {}};
}

void conversation::end_question() {
    const std::lock_guard lock{mutex_};
    asked_.reset();
}

void conversation::note(const std::string& sentence) {
    const std::lock_guard lock{mutex_};
    log_.noted(clock::now(), '*', sentence);
}

bool conversation::is_asking() const {
    const std::lock_guard lock{mutex_};
    return asked_.has_value();
}

void conversation::count(std::size_t lines, std::size_t bytes, clock::time_point now) {
    // What comes without line ends is no quieter for that.
    constexpr std::size_t bytes_of_a_line = 80;
    if (now - second_began_ >= std::chrono::seconds{1}) {
        lines_ = bytes_ = 0;
        second_began_ = now;
    }
    lines_ += lines;
    bytes_ += bytes;
    most_in_a_second_ = std::max({most_in_a_second_, lines_, bytes_ / bytes_of_a_line});
}

void conversation::arrived(std::size_t bytes) {
    const std::lock_guard lock{mutex_};
    count(0, bytes, clock::now());
}

/// Why a restart may have gone unheard. Firmware drops what it cannot send, so a flood may take a
/// boot banner with it.
std::vector<std::string> conversation::doubts() const {
    auto all = doubts_.all("the console was gone for a while");
    if (away_since_ && !away_is_caused_)
        all.push_back(
            fmt::format("The console has been gone since {} of its log: whether the module "
                        "restarted, nobody hears; look at its cable and its power, and run again.",
                        time_of(*away_since_)));
    if (static_cast<double>(most_in_a_second_) > most_unasked_per_second_)
        all.push_back(fmt::format(
            "The module sent {} lines in one second unasked, and more than {:g} are not believed "
            "to arrive whole: a message of a restart may have been lost among them; silence its "
            "debug output, or raise 'unasked lines per second' in the expectation file.",
            most_in_a_second_, most_unasked_per_second_));
    return all;
}

console_record conversation::record_now() const {
    return {log_.text(zero_), resets_.all("the module restarted by itself"), doubts(),
            problems_.all("the console went away or came back")};
}

void conversation::forget() {
    log_.clear();
    resets_ = {};
    doubts_ = {};
    problems_ = {};
    lines_ = bytes_ = 0;
    most_in_a_second_ = 0;
    zero_ = clock::now();
}

void conversation::mark() {
    const std::lock_guard lock{mutex_};
    forget();
}

console_record conversation::record() const {
    const std::lock_guard lock{mutex_};
    return record_now();
}

console_record conversation::cut() {
    const std::lock_guard lock{mutex_};
    auto all = record_now();
    forget();
    return all;
}

void conversation::expect_reset() {
    const std::lock_guard lock{mutex_};
    caused_until_ = clock::now() + grace_;
}

std::size_t conversation::restarts() const {
    const std::lock_guard lock{mutex_};
    return restarts_;
}

}  // namespace cvrig
