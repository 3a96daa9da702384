#pragma once

#include <string>

#include "rig/service/bench_view.hpp"
#include "rig/service/event_hub.hpp"
#include "rig/service/http_server.hpp"
#include "rig/service/image_intake.hpp"
#include "rig/service/job_runner.hpp"
#include "rig/service/job_store.hpp"

namespace cvrig::service {

/// What the daemon's answers are made of.
struct api_parts {
    job_store& jobs;
    image_intake& intake;
    job_runner& runner;
    bench_view& view;
    event_hub& hub;
    std::string history;  ///< address, for readings of what was filed
};

/// The most jobs that a queue shows.
inline constexpr int jobs_shown = 100;

/// The page, the bench, the queue and what may be done with them (rig/service/API.md). The parts must
/// outlive the server.
void add_api(http_server& to, api_parts parts);

}  // namespace cvrig::service
