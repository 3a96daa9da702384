#include "rig/service/history_answers.hpp"

#include <algorithm>
#include <cstdint>
#include <functional>
#include <optional>

#include "rig/evidence/compare.hpp"
#include "rig/history/database.hpp"
#include "rig/history/row_number.hpp"
#include "rig/history/stored_run.hpp"
#include "rig/history/trend.hpp"
#include "rig/report/history_json.hpp"
#include "rig/service/run_files.hpp"

namespace cvrig::service {

namespace {

using history::database;
using answer_from = std::function<http_answer(database&, const http_request&)>;

http_answer ok(std::string body) {
    return {200, "application/json", std::move(body)};
}

std::string asked(const http_request& r, const char* name) {
    const auto found = r.query.find(name);
    return found == r.query.end() ? std::string{} : found->second;
}

std::optional<history::stored_run> run_in(database& in, const std::string& id) {
    const auto number = history::row_number(id);
    return number ? history::run_of_id(in, *number) : std::nullopt;
}

http_answer no_such_run() {
    return error_answer(404, "There is no run of that number.");
}

http_answer builds(database& in, const http_request& r) {
    constexpr std::int64_t usual = 50;
    constexpr std::int64_t most = 500;
    const auto limit = history::row_number(asked(r, "limit")).value_or(usual);
    const auto before = history::row_number(asked(r, "before"));
    return ok(builds_json(history::list_builds(in, before, std::min(limit, most))));
}

http_answer one_run(database& in, const http_request& r) {
    const auto run = run_in(in, r.parts.at(0));
    if (!run) return no_such_run();
    return ok(run_json(*run, history::read_run(in, *run)));
}

http_answer comparison(database& in, const http_request& r) {
    const auto a = run_in(in, asked(r, "a"));
    const auto b = run_in(in, asked(r, "b"));
    if (!a || !b) return no_such_run();
    const auto c = evidence::compare(history::read_run(in, *a), history::read_run(in, *b));
    return ok(comparison_json(*a, *b, c));
}

http_answer readings(database& in, const http_request& r) {
    return ok(demands_json(history::list_demands(in, asked(r, "module"))));
}

http_answer one_trend(database& in, const http_request& r) {
    const auto number = history::row_number(asked(r, "reading"));
    if (!number) return error_answer(400, "Say the number of a reading.");
    const auto demand = history::find_demand(in, "", std::to_string(*number));
    history::run_question which;
    which.module = demand.module;
    which.unit = asked(r, "unit");
    which.bench = asked(r, "bench");
    const auto of = history::latest_subject(in, which);
    return ok(trend_json(history::read_trend(in, demand, of)));
}

http_answer run_file(database& in, const http_request& r) {
    const auto run = run_in(in, r.parts.at(0));
    if (!run) return no_such_run();
    if (!history::has_its_report(*run))
        return error_answer(404, "The report of that run is not kept any more.");
    return answer_with_file(run->report_folder, r.parts.at(1));
}

}  // namespace

void add_history_answers(http_server& to, const std::string& history) {
    const auto on = [&](const char* pattern, const answer_from& answer) {
        to.on_get(pattern, [history, answer](const http_request& r) {
            const auto in = history::open_history(history, history::opening::to_read);
            return answer(*in, r);
        });
    };
    on("/api/builds", builds);
    on(R"(/api/runs/(\d+))", one_run);
    on("/api/compare", comparison);
    on("/api/readings", readings);
    on("/api/trend", one_trend);
    on(R"(/runs/(\d+)/(report\.html|sounds/[^/]+\.wav))", run_file);
}

}  // namespace cvrig::service
