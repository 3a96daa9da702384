#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rig/expectations/dimension.hpp"
#include "rig/history/baseline.hpp"
#include "rig/history/database.hpp"

namespace cvrig::history {

/// Something that is read in every run: a check's reading in one choice of settings.
struct stored_demand {
    std::int64_t id{0};
    std::string module, check, name;
    setting_choice choice;
    std::int64_t nth{0};  ///< which one of that name, from 0
    /// Of the settings, those that are not the same for everything that is read of the module.
    setting_choice telling;

    /// "tracking (mode tied), error"
    [[nodiscard]] std::string called() const;
};

/// What can be followed: the readings of that module (empty: of all), in the order of their names.
[[nodiscard]] std::vector<stored_demand> list_demands(database& in, const std::string& module);

/// The reading that a person means: its number, or words that all stand in its name ("tracking tied
/// error"), of that module.
/// Refuses: throws store_error that lists what fits, if it is not just one.
[[nodiscard]] stored_demand find_demand(database& in, const std::string& module,
                                        const std::string& named);

/// One run's reading.
struct trend_point {
    std::int64_t run{0};
    std::string build, commit, started;
    std::optional<double> reading,
        standard_uncertainty;            ///< base unit; nothing: it could not be read
    std::optional<double> lower, upper;  ///< what was demanded then
    verdict outcome{verdict::unsure};
    int measurement_version{1};
};

/// From this run on the reading is another.
struct trend_change {
    std::size_t point{0};  ///< the first of the new level
    double before{0.0}, after{0.0}, p{1.0};
};

/// One reading over the builds of one unit on one bench.
struct trend {
    stored_demand demand;
    subject of;
    dimension unit{dimension::ratio};
    double coverage_factor{2.0};      ///< of the latest run
    std::vector<trend_point> points;  ///< oldest first
    std::vector<trend_change> changes;
    bool is_cut{false};  ///< there are older ones
    bool is_measured_otherwise{
        false};  ///< cvrig changed how it measures: changes are told of the latest way only
};

/// What the latest of the runs asked for is of: where nobody says which unit and bench is meant. `which` may
/// name a module, a unit, a bench.
/// Refuses: throws store_error if there is no such run.
[[nodiscard]] subject latest_subject(database& in, const run_question& which);

/// Reads at most `most` of the latest points and looks for changes (analysis::change_points) among those
/// that were measured in the latest way.
/// Refuses: throws store_error if there is none.
[[nodiscard]] trend read_trend(database& in, const stored_demand& demand, const subject& of,
                               std::int64_t most = 500);

}  // namespace cvrig::history
