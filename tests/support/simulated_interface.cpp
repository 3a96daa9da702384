#include "tests/support/simulated_interface.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

#include "rig/expectations/user_error.hpp"

namespace cvrig::testing {

namespace {

std::vector<float> extended(const std::vector<float>& x, std::size_t frames, float last) {
    auto out = x;
    out.resize(frames, last);
    return out;
}

void add_scaled(std::vector<float>& to, const std::vector<float>& from, double scale) {
    for (std::size_t n = 0; n < std::min(to.size(), from.size()); ++n)
        to[n] =
            static_cast<float>(static_cast<double>(to[n]) + scale * static_cast<double>(from[n]));
}

}  // namespace

patched_module silent_module(std::size_t inputs) {
    return [inputs](const std::vector<std::vector<float>>& outputs, sample_rate) {
        const std::size_t frames = outputs.empty() ? 0 : outputs.front().size();
        return std::vector<std::vector<float>>(inputs, std::vector<float>(frames, 0.0F));
    };
}

simulated_interface::simulated_interface(const bench& b, interface_manners how,
                                         patched_module module)
    : manners{std::move(how)},
      bench_{b},
      module_{std::move(module)},
      held_(b.outputs.size(), volts{0.0}) {}

void simulated_interface::require_limits(const volts_out& out) const {
    for (std::size_t i = 0; i < out.outputs.size() && i < bench_.outputs.size(); ++i)
        for (const float v : out.outputs[i])
            if (static_cast<double>(v) < bench_.outputs[i].lowest.value() - 1e-6 ||
                static_cast<double>(v) > bench_.outputs[i].highest.value() + 1e-6)
                throw user_error{fmt::format("{} V lies outside the limits of the output for {}.",
                                             v, bench_.outputs[i].jack)};
}

std::vector<float> simulated_interface::output_stage(std::vector<float> x) const {
    for (float& v : x) v = static_cast<float>(static_cast<double>(v) * manners.gain);
    if (manners.output_corner) couple_by_capacitor(x, *manners.output_corner, rate());
    return x;
}

// Converters, clocks and the cable's way, seen from the record.
std::vector<float> simulated_interface::through(const std::vector<float>& x) const {
    if (std::ranges::all_of(x, [](float v) { return v == 0.0F; })) return x;
    const double step = manners.rate_ratio * (1.0 + manners.drift_ppm * 1e-6);
    double cutoff = manners.cutoff;
    double delay = manners.delay_samples;
    if (manners.resampled) {
        cutoff = std::min(cutoff, 0.45 * 44.1 / 48.0);
        delay += 31.7;
    }
    return band_limited(x, x.size(), delay, step, cutoff);
}

void simulated_interface::input_stage(std::vector<float>& x, std::uint64_t channel) const {
    if (manners.hum.value() != 0.0) {
        add_sine(x, manners.hum.value(), manners.hum_frequency, rate(),
                 static_cast<double>(manners.seed % 7));
    }
    if (manners.input_corner) couple_by_capacitor(x, *manners.input_corner, rate());
    if (!manners.slips.empty()) x = with_slips(x, manners.slips);
    add_noise(x, manners.noise_volts,
              manners.seed * 1000 + static_cast<std::uint64_t>(exchanges_) * 50 + channel);
    clip(x, manners.clips_at.value());
}

simulated_interface::channels simulated_interface::sockets(const volts_out& out,
                                                           std::size_t frames) const {
    channels all;
    for (std::size_t i = 0; i < bench_.outputs.size(); ++i) {
        const auto held = static_cast<float>(held_[i].value());
        static const std::vector<float> nothing;
        const auto& sent = i < out.outputs.size() ? out.outputs[i] : nothing;
        all.push_back(output_stage(extended(sent, frames, sent.empty() ? 0.0F : held)));
    }
    return all;
}

volts_in simulated_interface::exchange(const volts_out& out, seconds tail, std::stop_token stop) {
    require_limits(out);
    const auto frames =
        out.size() + static_cast<std::size_t>(std::lround(tail.value() * rate().value()));
    volts_in in;
    in.frames_per_second =
        manners.frames_per_second > 0.0 ? manners.frames_per_second : rate().value();
    in.u_frames_per_second = 1e-4 * in.frames_per_second;
    in.events = manners.events;
    in.stopped = stop.stop_requested();
    const auto outputs = sockets(out, frames);
    const auto loop = output_stage(extended(out.loop, frames, 0.0F));
    std::vector<float> loop_heard(frames, 0.0F);
    if (manners.loop_cable) add_scaled(loop_heard, loop, manners.loop_gain);
    for (const auto& o : outputs) add_scaled(loop_heard, o, manners.outputs_to_loop);
    for (float& v : loop_heard) {
        const double x = v;
        v = static_cast<float>(x - manners.bend * x * x * x);
    }
    in.inputs = module_(outputs, rate());
    for (std::size_t i = 0; i < in.inputs.size(); ++i) {
        add_scaled(in.inputs[i], loop, manners.loop_to_inputs);
        if (manners.loop_cable_in_input == i) add_scaled(in.inputs[i], loop, manners.loop_gain);
        in.inputs[i] = through(in.inputs[i]);
        add_sine(in.inputs[i], manners.foreign_on_inputs.value(), hertz{733.0}, rate());
        input_stage(in.inputs[i], i + 1);
    }
    in.loop = through(loop_heard);
    for (float& v : in.loop) v += static_cast<float>(manners.loop_offset.value());
    add_sine(in.loop, manners.foreign_on_loop.value(), hertz{733.0}, rate());
    input_stage(in.loop, 0);
    if (!bench_.loop) in.loop.clear();
    ++exchanges_;
    return in;
}

void simulated_interface::hold(std::span<const volts> outputs) {
    held_.assign(outputs.begin(), outputs.end());
    held_.resize(bench_.outputs.size(), volts{0.0});
}

std::string simulated_interface::description() const {
    return fmt::format("an interface in memory, {} out, {} in", bench_.outputs.size(),
                       bench_.inputs.size());
}

}  // namespace cvrig::testing
