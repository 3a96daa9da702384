#include "rig/service/api.hpp"

#include <optional>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/history/row_number.hpp"
#include "rig/service/history_answers.hpp"
#include "rig/service/job_json.hpp"
#include "rig/service/page_files.hpp"

namespace cvrig::service {

namespace {

using json = nlohmann::ordered_json;

http_answer ok(const json& body, int status = 200) {
    return {status, "application/json", text_of(body) + "\n"};
}

/// The body as an object; texts are asked of it with text_in().
json object_in(const std::string& body) {
    auto out = json::parse(body, nullptr, false);
    if (!out.is_object()) throw user_error{"Send a JSON object."};
    return out;
}

std::string text_in(const json& object, const char* key) {
    const auto found = object.find(key);
    if (found == object.end() || found->is_null()) return {};
    if (!found->is_string()) throw user_error{std::string{"'"} + key + "' must be a text."};
    return found->get<std::string>();
}

http_answer page(const std::string& name) {
    const auto file = page_file_named(name);
    if (!file) return error_answer(404, "There is nothing of that name.");
    return {200, std::string{file->type}, std::string{file->bytes}};
}

http_answer submit(const api_parts& p, const http_request& r) {
    const auto asked = object_in(r.body);
    const submission s{text_in(asked, "image"), text_in(asked, "build"), text_in(asked, "commit"),
                       text_in(asked, "unit")};
    const auto id = p.intake.submitted(s);
    p.runner.wake();
    p.hub.tell("queue", text_of(json_of(p.jobs.latest(jobs_shown))));
    return ok({{"id", id}}, 202);
}

http_answer one_job(const api_parts& p, const http_request& r) {
    const auto id = history::row_number(r.parts.at(0));
    const auto found = id ? p.jobs.find(*id) : std::nullopt;
    if (!found) return error_answer(404, "There is no such job.");
    return ok(json_of(*found));
}

http_answer cancel(const api_parts& p, const http_request& r) {
    const auto id = history::row_number(r.parts.at(0));
    if (!id || !p.jobs.find(*id)) return error_answer(404, "There is no such job.");
    if (!p.runner.cancel(*id))
        return error_answer(409, "That job neither waits nor runs any more.");
    return ok({{"id", *id}});
}

http_answer answer(const api_parts& p, const http_request& r) {
    const auto told = object_in(r.body);
    const auto number = told.find("number");
    if (number == told.end() || !number->is_number_integer())
        return error_answer(400, "Say the number of the question.");
    const auto word = text_in(told, "answer");
    if (word != "done" && word != "skip" && word != "end")
        return error_answer(400, "The answer is done, skip or end.");
    if (!p.runner.answer(number->get<int>(), word))
        return error_answer(409, "That is not asked (any more).");
    return ok({{"number", *number}});
}

void add_page(http_server& to) {
    to.on_get("/", [](const http_request&) { return page("index.html"); });
    to.on_get(R"(/page/([A-Za-z0-9._-]+))",
              [](const http_request& r) { return page(r.parts.at(0)); });
}

void add_bench(http_server& to, const api_parts& p) {
    to.on_get("/api/bench", [p](const http_request&) { return ok(p.view.snapshot()); });
    to.on_get("/api/queue",
              [p](const http_request&) { return ok(json_of(p.jobs.latest(jobs_shown))); });
    to.on_get(R"(/api/jobs/(\d+))", [p](const http_request& r) { return one_job(p, r); });
    to.on_events("/api/events", p.hub, [p](event_stream& reader) {
        reader.tell("bench", text_of(p.view.snapshot()));
        reader.tell("levels", text_of(p.view.levels()));
        reader.tell("queue", text_of(json_of(p.jobs.latest(jobs_shown))));
    });
}

void add_acts(http_server& to, const api_parts& p) {
    using enum needs_token;
    to.on_post("/api/jobs", yes, [p](const http_request& r) { return submit(p, r); });
    to.on_post(R"(/api/jobs/(\d+)/cancel)", yes,
               [p](const http_request& r) { return cancel(p, r); });
    // Silence is never refused for want of a token.
    to.on_post("/api/stop", no, [p](const http_request&) {
        p.runner.stop_at_once();
        return ok({{"held", true}});
    });
    to.on_post("/api/resume", yes, [p](const http_request&) {
        p.runner.go_on();
        return ok({{"held", false}});
    });
    to.on_post("/api/answer", yes, [p](const http_request& r) { return answer(p, r); });
}

}  // namespace

void add_api(http_server& to, api_parts parts) {
    add_page(to);
    add_bench(to, parts);
    add_acts(to, parts);
    add_history_answers(to, parts.history);
}

}  // namespace cvrig::service
