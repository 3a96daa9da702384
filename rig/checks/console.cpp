#include "rig/checks/console.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analysis/fit.hpp"
#include "analysis/uncertainty.hpp"
#include "rig/checks/fact_findings.hpp"
#include "rig/checks/image_version.hpp"
#include "rig/checks/outside_facts.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/image/read_image.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

std::string at_time(seconds at) {
    return fmt::format("{} into the run",
                       show(std::round(at.value() * 1e3) * 1e-3, dimension::seconds, 3));
}

void judge_version(fact_findings& out, const module_expectations& m, const image_facts& given,
                   const std::string& says) {
    const auto match = match_version(read_image(given.bytes), given.name, m, says);
    if (!match.doubt.empty()) return out.doubt("identity", match.doubt);
    out.tell("identity", says, match.wrong);
}

void judge_identity(fact_findings& out, const check_request& request, const outside_facts& facts) {
    const auto& said = *facts.console;
    if (said.identity.empty()) {
        const auto& why = !said.silence.empty() ? said.silence
                          : !said.trouble.empty()
                              ? said.trouble
                              : std::string{"The file says nothing of how to ask for it."};
        for (const char* key : {"identity", "identity form"}) out.doubt(key, why);
        return;
    }
    out.tell("identity form", said.identity, identity_fault(said.identity));
    if (said.version.empty())
        out.doubt("identity",
                  fmt::format("The identity {} names no version; capture it with a group "
                              "in 'identity'.",
                              cvrig::quoted(said.identity)));
    else if (!facts.image)
        out.doubt("identity", facts.no_image);
    else
        judge_version(out, request.module, *facts.image, said.version);
}

/// A question that was never answered is a failure whatever the limit is.
void judge_answers(fact_findings& told, findings& out, const console_facts& said) {
    if (!said.silence.empty()) {
        finding f = told.blank("answer");
        f.outcome = verdict::fail;
        f.reason = said.silence;
        told.add(std::move(f));
        return;
    }
    std::vector<reading> all;
    // The rig's reading thread may rest for 20 ms when the question goes out; the time read is never
    // too short, and this much too long at most (rectangular, GUM 4.3.7).
    constexpr double rest_seconds = 0.020;
    for (const auto& a : said.answers)
        all.push_back(
            make_reading(a.took.value(), dimension::seconds,
                         {{"rest of the console's reader", rest_seconds / std::sqrt(3.0)}},
                         fmt::format("{}, {}", a.asked, at_time(a.at))));
    out.add_worst("answer", all);
}

/// Half the last digit either way, rectangular (GUM 4.3.7).
double u_digit(const console_number& n) {
    return n.digit / std::sqrt(12.0);
}

void judge_numbers(findings& out, const std::string& key, const std::vector<console_number>& told,
                   dimension unit, const console_facts& said) {
    std::vector<reading> all;
    for (const auto& n : told) {
        all.push_back(make_reading(n.told, unit, {{"last digit told", u_digit(n)}}, at_time(n.at)));
        all.back().where = n.at.value();
    }
    const auto* allowed = out.limit_of(key);
    const bool fails = allowed != nullptr && std::ranges::any_of(all, [&](const reading& r) {
                           return out.judged(r, *allowed) == verdict::fail;
                       });
    // What was told before the console went wrong proves nothing of what came after.
    if (!all.empty() && (fails || said.trouble.empty())) return out.add_worst(key, all);
    out.doubt(key, !said.silence.empty() ? said.silence
                   : !said.trouble.empty()
                       ? said.trouble
                       : fmt::format("Nothing was asked for it; add '{}' to the file's "
                                     "section 'console'.",
                                     key));
}

/// How much the free memory fell from the first look to the last, by the best straight line over the
/// looks in their order: firmware loses memory by what it does, not by the clock. The scatter about
/// the line makes the uncertainty; of few readings it is known badly, so that it is widened by
/// Student's t (GUM G.3), and it is never below what the last digit leaves open.
void judge_loss(findings& out, const console_facts& said) {
    std::vector<double> look, free;
    double squares = 0.0;
    const double last = static_cast<double>(said.memory.size()) - 1.0;
    for (const auto& n : said.memory) {
        look.push_back(static_cast<double>(look.size()));
        free.push_back(n.told);
        squares += std::pow(look.back() - last / 2.0, 2);
    }
    const auto line = analysis::fit_line(look, free);
    if (!line) {
        out.doubt("memory loss",
                  !said.silence.empty()
                      ? said.silence
                      : "It takes three readings of the free memory to see it fall.");
        return;
    }
    const auto t95 = analysis::coverage_factor(0.95, static_cast<double>(line->degrees_of_freedom));
    const double u_scatter = (t95 ? *t95 / 1.96 : 1.0) * line->u_slope * last;
    const double u_last_digit = u_digit(said.memory.front()) / std::sqrt(squares) * last;
    const bool from_scatter = u_scatter > u_last_digit;
    out.add(
        "memory loss",
        make_reading(-line->slope * last, dimension::bytes,
                     {from_scatter ? analysis::contribution{"scatter of the free memory", u_scatter}
                                   : analysis::contribution{"last digit told", u_last_digit}},
                     fmt::format("over {} looks", said.memory.size())));
}

/// A file that says nothing of restarts wants none.
void judge_resets(fact_findings& out, const console_facts& said, double coverage_factor) {
    finding f = out.blank("resets");
    const auto count = static_cast<double>(said.resets.size());
    f.measured = reading{count, dimension::count, 0.0, {}, {}};
    const bool too_many = f.allowed
                              ? !f.allowed->lacks_baseline() &&
                                    judge(*f.measured, *f.allowed, coverage_factor) != verdict::pass
                              : count > 0.0;
    if (too_many) {
        f.outcome = verdict::fail;
        f.reason = said.resets.front();
    } else if (!said.doubts.empty()) {
        f.outcome = verdict::unsure;
        f.reason = said.doubts.front();
        f.measured.reset();
    } else {
        f.outcome = verdict::pass;
    }
    if (out.wanted("resets") || f.outcome == verdict::fail) out.add(std::move(f));
}

plot memory_plot(const console_facts& said) {
    plot p{.title = "Free memory over the run",
           .x_label = "time / s",
           .y_label = "free / KiB",
           .curves =
               {{.name = "free memory", .drawn = series::look::points, .x = {}, .y = {}, .u = {}}},
           .bands = {},
           .note = "A line that falls is a leak."};
    for (const auto& n : said.memory) {
        p.curves[0].x.push_back(n.at.value());
        p.curves[0].y.push_back(n.told / 1024.0);
    }
    return p;
}

check_result judge_console(const check_request& request, const outside_facts& facts) {
    if (!facts.console) return all_skipped(request, facts.no_console);
    const auto& said = *facts.console;
    fact_findings told{request};
    findings measured{request};
    judge_identity(told, request, facts);
    judge_answers(told, measured, said);
    judge_numbers(measured, "load", said.load, dimension::percent, said);
    judge_numbers(measured, "memory", said.memory, dimension::bytes, said);
    judge_loss(measured, said);
    judge_resets(told, said, request.module.coverage_factor);
    check_result result;
    result.findings = std::move(told).take();
    for (auto& f : std::move(measured).take()) result.findings.push_back(std::move(f));
    for (auto& f : result.findings) f.choice = {};
    if (said.memory.size() > 2) result.plots.push_back(memory_plot(said));
    return result;
}

}  // namespace

std::string identity_fault(const std::string& reply) {
    constexpr std::size_t longest = 72;
    constexpr std::ptrdiff_t commas = 3;
    if (reply.size() > longest)
        return fmt::format("The identity is {} characters long, and {} is the most.", reply.size(),
                           longest);
    if (std::ranges::any_of(reply, [](char c) { return c < ' ' || c > '~' || c == ';'; }))
        return "The identity has a character that is not allowed: only printable ASCII without "
               "semicolons is.";
    const auto fields = std::ranges::count(reply, ',') + 1;
    if (fields != commas + 1)
        return fmt::format(
            "The identity has {} field{} instead of 4: manufacturer, model, serial "
            "number, firmware level.",
            fields, fields == 1 ? "" : "s");
    if (("," + reply + ",").find(",,") != std::string::npos)
        return "A field of the identity is empty; 0 stands for what is not known.";
    return {};
}

check console_check() {
    using form = key_spec::form;
    return {.spec = {.name = "console",
                     .plays = "nothing; the console is asked at the start and after each take",
                     .reads = "what the module's console says over the whole run",
                     .keys = {{.name = "identity",
                               .kind = form::word,
                               .words = {"the image's version"},
                               .meaning =
                                   "the version in the module's identity (a 'v' before its number "
                                   "counts for nothing) is"},
                              {.name = "identity form",
                               .kind = form::word,
                               .words = {"IEEE 488.2"},
                               .meaning = "the identity has the four fields of"},
                              {.name = "answer",
                               .unit = dimension::seconds,
                               .meaning = "every question is answered in"},
                              {.name = "load",
                               .unit = dimension::percent,
                               .meaning = "the processor's load after every take is"},
                              {.name = "memory",
                               .unit = dimension::bytes,
                               .meaning = "the free memory after every take is"},
                              {.name = "memory loss",
                               .unit = dimension::bytes,
                               .meaning = "the free memory falls over the run by"},
                              {.name = "resets",
                               .unit = dimension::count,
                               .meaning = "the number of restarts that nobody asked for is",
                               .only_upper = true}},
                     .hears = false},
            .plan = nullptr,
            .judge = nullptr,
            .judge_facts = judge_console};
}

}  // namespace cvrig
