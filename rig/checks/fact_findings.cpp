#include "rig/checks/fact_findings.hpp"

#include <utility>

namespace cvrig {

namespace {

const value* demanded(const check_request& request, const std::string& key) {
    const auto found = request.wanted.keys.find(key);
    return found == request.wanted.keys.end() ? nullptr : found->second.find(request.choice);
}

}  // namespace

bool fact_findings::wanted(const std::string& key) const {
    return demanded(request_, key) != nullptr;
}

finding fact_findings::blank(const std::string& key) const {
    finding f;
    f.check = request_.wanted.name;
    f.name = key;
    const value* v = demanded(request_, key);
    if (v == nullptr) return f;
    if (const auto* l = request_.wanted.find<limit>(key, request_.choice)) f.allowed = *l;
    if (const auto* w = std::get_if<word>(v)) f.expected = *w;
    if (const auto* p = std::get_if<text_pattern>(v)) f.expected = word{p->text};
    return f;
}

void fact_findings::tell(const std::string& key, const std::string& is, const std::string& wrong) {
    if (wanted(key)) tell_anyway(key, is, wrong);
}

void fact_findings::tell_anyway(const std::string& key, const std::string& is,
                                const std::string& wrong) {
    finding f = blank(key);
    f.outcome = wrong.empty() ? verdict::pass : verdict::fail;
    f.answered = answer{.text = is,
                        .probability = 1.0,
                        .probability_of_expected = wrong.empty() ? 1.0 : 0.0,
                        .at = {}};
    f.reason = wrong;
    found_.push_back(std::move(f));
}

void fact_findings::doubt(const std::string& key, const std::string& reason) {
    if (!wanted(key)) return;
    finding f = blank(key);
    f.outcome = verdict::unsure;
    f.reason = reason;
    found_.push_back(std::move(f));
}

void fact_findings::add(finding f) {
    found_.push_back(std::move(f));
}

check_result all_skipped(const check_request& request, const std::string& reason) {
    check_result out;
    const fact_findings blanks{request};
    for (const auto& entry : request.wanted.keys) {
        finding f = blanks.blank(entry.first);
        f.outcome = verdict::skipped;
        f.reason = reason;
        out.findings.push_back(std::move(f));
    }
    return out;
}

}  // namespace cvrig
