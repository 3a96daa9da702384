#include "rig/report/fleet_story.hpp"

#include <fmt/format.h>

#include <iterator>

#include "rig/report/phrases.hpp"

namespace cvrig::report {

namespace {

template <class T>
void append(std::vector<T>& to, std::vector<T> more) {
    std::ranges::move(more, std::back_inserter(to));
}

std::string circumstances(const fleet_answer& a) {
    auto text = fmt::format("{} to {}", show(a.chosen.low_volts, dimension::volts),
                            show(a.chosen.high_volts, dimension::volts));
    if (!a.chosen.chosen.empty())
        text = fmt::format("{}, {}", cvrig::in_words(a.chosen.chosen), text);
    return fmt::format("{}; {} of {}", text,
                       counted(a.chosen.of_choice.size(), "record", "records"),
                       counted(a.chosen.builds.size(), "build", "builds"));
}

}  // namespace

std::vector<std::string> fleet_story::answers() const {
    std::vector<std::string> all;
    for (const auto& c : chapters) append(all, c.answers);
    return all;
}

fleet_story story_of(const fleet_answer& a) {
    fleet_story s;
    s.title = fmt::format("{}, build {}: {}", a.chosen.module, a.chosen.build,
                          counted(a.chosen.units.size(), "unit", "units"));
    s.circumstances = circumstances(a);
    s.chapters = {{"Default constants", words_on_defaults(a)},
                  {"Units that nobody has measured", words_on_unseen(a)},
                  {"From build to build", words_on_builds(a)},
                  {"Odd units", words_on_odd_units(a)},
                  {"Unit or build", words_on_scatter(a)}};
    std::erase_if(s.chapters, [](const fleet_chapter& c) { return c.answers.empty(); });
    for (const auto tables : {tables_of_defaults, tables_of_builds, tables_of_units})
        append(s.tables, tables(a));
    s.plots = plots_of(a);
    s.remarks = a.chosen.remarks;
    append(s.remarks, a.unreadable);
    return s;
}

}  // namespace cvrig::report
