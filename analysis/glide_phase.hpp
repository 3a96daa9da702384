#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "analysis/glide.hpp"

/// The laws by which a voice's phase runs through a glide, with their derivatives.
namespace cvrig::analysis::gliding {

/// Places of the four parameters of a law in every array of derivatives.
enum law_place : std::size_t { ln_from = 0, ln_to = 1, ln_tau = 2, at_start = 3, law_places = 4 };

/// The glide before: where it came from (ln of Hz) and how long before this one it started.
struct glide_before {
    double ln_from{0.0};
    double since_s{0.0};
};

[[nodiscard]] std::optional<glide_before> before_of(const std::optional<earlier_glide>& earlier);

/// One glide: the logarithms keep pitches and times above 0 whatever step a fit takes.
struct glide_law {
    glide_shape shape{glide_shape::exponential_in_volts};
    /// ln of Hz before, ln of Hz after, ln of the time constant (or duration) in s, start in s.
    std::array<double, law_places> at{};
    /// What is left of it dies away towards `from` by the same law.
    std::optional<glide_before> before{};

    [[nodiscard]] double from_hz() const;
    [[nodiscard]] double to_hz() const;
    [[nodiscard]] double tau_s() const;
    [[nodiscard]] double start_s() const { return at[at_start]; }
};

/// Phase since time 0, pitch, how much of the way is left (1 before the start, 0 at the end), and
/// the derivatives of the phase by the four parameters, in cycles per unit of each.
struct phase_point {
    double cycles{0.0};
    double pitch_hz{0.0};
    double left{1.0};
    std::array<double, law_places> by{};
};

/// A law made ready for many evaluations.
///
/// Definition: pitch f(t) is `from` before the start; after it, with u = t - start and
///             E = exp(-u/tau), it is to * (from/to)^E (exponential in volts), to + (from - to) E
///             (exponential in hertz), or from * (to/from)^(u/T) until T (linear in volts).
///             Phase is the integral of f from time 0, for any time 0. With a glide before it, the
///             pitch before the start is that of the earlier glide, and this one sets off from
///             where that has got to; phase is then that of the earlier glide.
/// Source:     integrated here term by term: the integral of exp(L E) over u is
///             u + tau * sum over n of L^n (1 - E^n) / (n n!), an entire series, so no
///             exponential integral is needed.
/// Error:      below 1e-12 cycles for up to four octaves and 1000 cycles.
class phase_law {
public:
    explicit phase_law(const glide_law& law);
    [[nodiscard]] phase_point operator()(double t_s) const;
    /// The phase alone, for searches that need no derivatives.
    [[nodiscard]] double cycles(double t_s) const;

private:
    /// How the logarithm of the pitch at the start moves with the law.
    struct setting_off {
        double by_ln_from{1.0}, by_ln_tau{0.0};
    };
    [[nodiscard]] setting_off set_off_from(const glide_law& law) const;
    void follow(const glide_law& law);
    [[nodiscard]] phase_point after_earlier(phase_point own) const;
    [[nodiscard]] phase_point in_volts(double t_s) const;
    [[nodiscard]] phase_point in_hertz(double t_s) const;
    [[nodiscard]] phase_point as_ramp(double t_s) const;

    glide_shape shape_;
    double from_, to_, tau_, start_;
    double step_;                 // L = ln(from / to)
    std::vector<double> series_;  // L^n / (n n!), n = 1, 2, ...
    double series_sum_{0.0};
    std::vector<phase_law> earlier_;  // none or one
    phase_point there_;               // of the earlier law at the start
    setting_off set_off_;
};

}  // namespace cvrig::analysis::gliding
