#include "rig/service/job_json.hpp"

namespace cvrig::service {

using json = nlohmann::ordered_json;

json json_of(const job& j) {
    json out{{"id", j.id},
             {"state", in_words(j.state)},
             {"image", j.image},
             {"build", j.build_name},
             {"commit", j.commit},
             {"unit", j.unit},
             {"asked", j.asked},
             {"asked_by", j.asked_by},
             {"started", j.started},
             {"ended", j.ended},
             {"attempts", j.attempts}};
    out["verdict"] = j.verdict.empty() ? json(nullptr) : json(j.verdict);
    out["run"] = j.run ? json(*j.run) : json(nullptr);
    out["why"] = j.why;
    return out;
}

json json_of(std::span<const job> jobs) {
    json all = json::array();
    for (const auto& j : jobs) all.push_back(json_of(j));
    return {{"jobs", all}};
}

std::string text_of(const json& j) {
    return j.dump(-1, ' ', false, json::error_handler_t::replace);
}

}  // namespace cvrig::service
