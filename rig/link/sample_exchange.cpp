#include "rig/link/sample_exchange.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig {

namespace {

constexpr seconds ramp_time{0.01};

std::size_t ramp_frames_at(sample_rate rate) {
    return static_cast<std::size_t>(std::ceil(ramp_time.value() * rate.value()));
}

}  // namespace

sample_exchange::sample_exchange(stream_layout layout)
    : layout_{std::move(layout)},
      ramp_frames_{ramp_frames_at(layout_.rate)},
      ordered_levels_(layout_.outputs.size()),
      held_{layout_.rest},
      level_{layout_.rest},
      from_{layout_.rest},
      to_{layout_.rest},
      first_{layout_.rest},
      ramp_done_{ramp_frames_} {
    static_assert(std::atomic<float>::is_always_lock_free);
    static_assert(std::atomic<std::uint64_t>::is_always_lock_free);
}

void sample_exchange::start(exchange_job& job) noexcept {
    next_job_.store(&job, std::memory_order_release);
}

void sample_exchange::hold(std::span<const float> levels) noexcept {
    for (std::size_t c = 0; c < ordered_levels_.size(); ++c)
        ordered_levels_[c].store(levels[c], std::memory_order_relaxed);
    ordered_.fetch_add(1, std::memory_order_release);
}

void sample_exchange::stop() noexcept {
    stop_.store(true);
}

bool sample_exchange::is_settled() const noexcept {
    return reached_.load(std::memory_order_acquire) == ordered_.load(std::memory_order_relaxed);
}

void sample_exchange::process(const float* in, float* out, std::size_t frames, block_flags flags,
                              steady_time now) noexcept {
    std::fill_n(out, layout_.device_outputs * frames, 0.0F);
    take_orders();
    note_block(frames, flags, now);
    block b{in, out, frames, 0};
    while (b.done < frames) advance(b);
    last_block_ = now;
    had_block_ = true;
    callbacks_.fetch_add(1, std::memory_order_relaxed);
}

void sample_exchange::take_orders() noexcept {
    if (stop_.load(std::memory_order_relaxed) && phase_ != phase::stopping) {
        finish_job();
        begin_ramp(layout_.rest);
        phase_ = phase::stopping;
    }
    if (phase_ == phase::stopping) return;
    if (job_ != nullptr && job_->cancelled.load(std::memory_order_relaxed)) {
        finish_job();
        held_ = layout_.rest;  // of equal size, so nothing is allocated
        begin_ramp(held_);
    }
    const auto ordered = ordered_.load(std::memory_order_acquire);
    if (ordered != obeyed_) {
        obeyed_ = ordered;
        for (std::size_t c = 0; c < held_.size(); ++c)
            held_[c] = ordered_levels_[c].load(std::memory_order_relaxed);
        if (phase_ == phase::holding || phase_ == phase::tailing) begin_ramp(held_);
    }
    if (job_ != nullptr) return;
    job_ = next_job_.exchange(nullptr, std::memory_order_acquire);
    if (job_ == nullptr) return;
    first_ = held_;
    if (job_->play.filled() > 0) job_->play.peek([&](std::size_t c, float v) { first_[c] = v; });
    begin_ramp(first_);
    played_ = 0;
    tail_done_ = 0;
    phase_ = phase::leading;
}

void sample_exchange::note_block(std::size_t frames, block_flags flags, steady_time now) noexcept {
    if (job_ == nullptr || phase_ == phase::leading) return;
    job_->rate.add(static_cast<double>(job_->recorded.load(std::memory_order_relaxed)), now);
    if (flags.underrun) note(stream_event::kind::underrun, 0.0);
    if (flags.overrun) note(stream_event::kind::overrun, 0.0);
    if (!had_block_) return;
    const double gap = std::chrono::duration<double>(now - last_block_).count();
    const auto buffered = static_cast<double>(layout_.blocks * frames);
    if (gap > buffered / layout_.rate.value()) note(stream_event::kind::gap, gap);
}

void sample_exchange::note(stream_event::kind what, double size) noexcept {
    const auto count = job_->event_count.load(std::memory_order_relaxed);
    if (count == exchange_job::most_events) {
        job_->untold_events.fetch_add(1, std::memory_order_relaxed);
        return;
    }
    job_->events[count] = {what, job_->recorded.load(std::memory_order_relaxed), size};
    job_->event_count.store(count + 1, std::memory_order_release);
}

void sample_exchange::advance(block& b) noexcept {
    const std::size_t left = b.frames - b.done;
    switch (phase_) {
        case phase::holding:
            emit_ramp(b, left);
            if (ramp_done_ == ramp_frames_) reached_.store(obeyed_, std::memory_order_release);
            break;
        case phase::stopping:
            emit_ramp(b, left);
            if (ramp_done_ == ramp_frames_) silent_.store(true);
            break;
        case phase::leading:
            emit_ramp(b, std::min(left, ramp_frames_ - ramp_done_));
            if (ramp_done_ == ramp_frames_) phase_ = phase::playing;
            break;
        case phase::playing:
            play(b);
            if (played_ < job_->frames) break;
            begin_ramp(held_);
            phase_ = phase::tailing;
            if (job_->tail == 0) finish_job();
            break;
        case phase::tailing: {
            const std::size_t n = std::min(left, job_->tail - tail_done_);
            record(b, n);
            emit_ramp(b, n);
            tail_done_ += n;
            if (tail_done_ == job_->tail) finish_job();
            break;
        }
    }
}

void sample_exchange::play(block& b) noexcept {
    const std::size_t wanted = std::min(b.frames - b.done, job_->frames - played_);
    const std::size_t there = std::min(wanted, job_->play.filled());
    // A feeding side that is late makes the last level last: a step to 0 V would be worse.
    const std::size_t n = there > 0 ? there : wanted;
    if (there == 0 && wanted > 0) note(stream_event::kind::starved, 0.0);
    record(b, n);
    if (there > 0) {
        job_->play.read(n, [&](std::size_t c, std::size_t i, float v) {
            b.out[layout_.outputs[c] * b.frames + b.done + i] = v;
            level_[c] = v;
        });
        played_ += n;
    } else {
        for (std::size_t c = 0; c < level_.size(); ++c)
            std::fill_n(b.out + layout_.outputs[c] * b.frames + b.done, n, level_[c]);
    }
    b.done += n;
}

void sample_exchange::record(const block& b, std::size_t frames) noexcept {
    if (job_->record.space() < frames) {
        note(stream_event::kind::starved, 0.0);
    } else {
        job_->record.write(frames, [&](std::size_t c, std::size_t i) {
            return b.in[layout_.inputs[c] * b.frames + b.done + i];
        });
    }
    job_->recorded.fetch_add(frames, std::memory_order_relaxed);
}

void sample_exchange::begin_ramp(const std::vector<float>& to) noexcept {
    if (ramp_done_ < ramp_frames_ && to_ == to) return;  // it is on its way
    from_ = level_;                                      // all of one size, so nothing is allocated
    to_ = to;
    ramp_done_ = 0;
}

float sample_exchange::ramp_level(std::size_t output, std::size_t step) const noexcept {
    if (step >= ramp_frames_) return to_[output];
    const float share = static_cast<float>(step) / static_cast<float>(ramp_frames_);
    return from_[output] + (to_[output] - from_[output]) * share;
}

void sample_exchange::emit_ramp(block& b, std::size_t frames) noexcept {
    for (std::size_t c = 0; c < level_.size(); ++c) {
        float* to = b.out + layout_.outputs[c] * b.frames + b.done;
        for (std::size_t i = 0; i < frames; ++i) to[i] = ramp_level(c, ramp_done_ + i + 1);
        if (frames > 0) level_[c] = to[frames - 1];
    }
    ramp_done_ = std::min(ramp_frames_, ramp_done_ + frames);
    b.done += frames;
}

void sample_exchange::finish_job() noexcept {
    if (phase_ == phase::tailing || phase_ == phase::playing || phase_ == phase::leading)
        phase_ = phase::holding;
    if (job_ == nullptr) return;
    job_->finished.store(true, std::memory_order_release);
    job_ = nullptr;
}

}  // namespace cvrig
