#include "rig/stimulus/render.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "rig/stimulus/jack_levels.hpp"

namespace cvrig {
namespace {

std::size_t samples_in(seconds time, sample_rate rate) {
    return static_cast<std::size_t>(std::llround(time.value() * rate.value()));
}

/// A passage that sounds, and the checks that listen to it.
struct sounding {
    const placed_passage* placed;
    std::set<std::string> checks;
};

bool is_same_music(const passage& a, const passage& b) {
    return a.choice == b.choice && a.steps == b.steps;
}

class composer {
public:
    composer(std::span<const passage> passages, std::span<const jack_levels> jacks,
             sample_rate rate)
        : passages_{passages}, jacks_{jacks} {
        result_.volts.rate = rate;
        result_.volts.volts.resize(jacks.size());
        for (const auto& jack : jacks) result_.volts.jacks.push_back(jack.output().jack);
        result_.placed.reserve(passages.size());
    }

    score run() {
        hold(samples(lead_in), [](const jack_levels& jack) { return jack.rest(); });
        result_.silence_end = size_;
        for (const auto& p : passages_) place_or_share(p);
        if (last_ != nullptr)
            hold(samples(gap), [this](const jack_levels& jack) { return jack.beside(*last_); });
        return_to_rest();
        return std::move(result_);
    }

private:
    [[nodiscard]] std::size_t samples(seconds time) const {
        return samples_in(time, result_.volts.rate);
    }

    template <class Level>
    void hold(std::size_t count, const Level& level) {
        for (std::size_t i = 0; i < jacks_.size(); ++i) {
            auto& channel = result_.volts.volts[i];
            channel.resize(channel.size() + count, jacks_[i].sample(level(jacks_[i])));
        }
        size_ += count;
    }

    void play(const step& s, std::size_t count) {
        hold(count, [&](const jack_levels& jack) { return jack.during(s); });
        for (std::size_t i = 0; i < jacks_.size(); ++i)
            if (const auto start = jacks_[i].start_of(s))
                move(i, count, *start, jacks_[i].during(s));
    }

    /// Makes the last `count` samples of a channel a straight way, the last of them its end.
    void move(std::size_t channel, std::size_t count, volts from, volts to) {
        auto& all = result_.volts.volts[channel];
        const volts way = to - from;
        for (std::size_t k = 1; k <= count; ++k)
            all[all.size() - count + k - 1] = jacks_[channel].sample(
                from + way * (static_cast<double>(k) / static_cast<double>(count)));
    }

    void place_or_share(const passage& p) {
        const auto shared = std::find_if(sounding_.begin(), sounding_.end(), [&](const auto& s) {
            return is_same_music(s.placed->asked, p) && !s.checks.contains(p.check);
        });
        if (shared == sounding_.end()) {
            place(p);
            return;
        }
        shared->checks.insert(p.check);
        result_.placed.push_back(*shared->placed);
        result_.placed.back().asked = p;
    }

    void place(const passage& p) {
        const step& first = p.steps.front();
        hold(samples(gap), [&](const jack_levels& jack) { return jack.beside(first); });
        auto& placed = result_.placed.emplace_back();  // reserved: it stays where it is
        placed.asked = p;
        placed.first_sample = size_;
        seconds played{0.0};
        for (const auto& s : p.steps) {
            placed.step_starts.push_back(size_);
            played += s.length;
            const std::size_t end = placed.first_sample + samples(played);
            play(s, end - size_);
        }
        placed.end_sample = size_;
        last_ = &p.steps.back();
        sounding_.push_back({&placed, {p.check}});
    }

    /// Gates are at rest already, so for them the ramp is flat.
    void return_to_rest() {
        const std::size_t count = samples(return_time);
        for (std::size_t i = 0; i < jacks_.size(); ++i) {
            const auto& jack = jacks_[i];
            auto& channel = result_.volts.volts[i];
            const volts from = last_ == nullptr ? jack.rest() : jack.beside(*last_);
            const volts way = jack.rest() - from;
            for (std::size_t k = 1; k <= count; ++k)
                channel.push_back(jack.sample(
                    from + way * (static_cast<double>(k) / static_cast<double>(count))));
        }
        size_ += count;
    }

    std::span<const passage> passages_;
    std::span<const jack_levels> jacks_;
    score result_;
    std::vector<sounding> sounding_;
    std::size_t size_{0};
    const step* last_{nullptr};
};

void demand_bearable_length(std::span<const passage> passages) {
    seconds total = lead_in + gap + return_time;
    for (const auto& p : passages) {
        total += gap;
        for (const auto& s : p.steps) total += s.length;
    }
    if (total > longest_take)
        throw user_error{
            fmt::format("one take would last {:.0f} s, which is more than {:.0f} s; ask "
                        "for fewer or shorter notes",
                        total.value(), longest_take.value())};
}

}  // namespace

score render(std::span<const passage> passages, const module_expectations& module,
             const bench& desk) {
    const auto jacks = levels_of(module, desk);
    if (auto complaints = complaints_about(passages, jacks, module); !complaints.empty())
        throw user_error{std::move(complaints)};
    demand_bearable_length(passages);
    return composer{passages, jacks, desk.rate()}.run();
}

}  // namespace cvrig
