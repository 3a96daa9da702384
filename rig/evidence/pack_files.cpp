#include "rig/evidence/pack_files.hpp"

#include <fmt/format.h>

#include <fstream>
#include <sstream>

#include "rig/bench/trim_file.hpp"
#include "rig/checks/check.hpp"
#include "rig/evidence/member_name.hpp"
#include "rig/evidence/scrub_bench.hpp"
#include "rig/evidence/write_yaml.hpp"
#include "rig/expectations/text_file.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

yaml_node tree_of(const fs::path& file) {
    complaint_list wrong;
    auto root = read_yaml(read_text_file(file.string()), file.string(), wrong);
    wrong.raise();
    return root;
}

void pack_trim(gathering& to, const bench& kept, const private_names& names,
               scrub_count& replaced) {
    auto constants = read_trim_file(kept.trim_file);
    for (auto* text : {&constants.bench, &constants.meter}) {
        auto clean = scrubbed(*text, names);
        *text = std::move(clean.text);
        replaced += clean.replaced;
    }
    const auto file = to.folder() / member::trim;
    write_trim_file(file.string(), constants);
    to.add_file(std::string{member::trim}, file);
}

}  // namespace

std::string bytes_of(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream out;
    out << in.rdbuf();
    if (!in) throw user_error{fmt::format("cannot read '{}'", file.string())};
    return out.str();
}

std::size_t pack_expectations(gathering& to, const fs::path& run, const private_names& names) {
    const auto text = yaml_text(tree_of(run / member::expectations));
    to.add_text(std::string{member::expectations}, {text, {}});
    (void)read_expectations((to.folder() / member::expectations).string(), all_specs());
    return scrubbed(text, names).replaced.all();
}

bench pack_bench(gathering& to, const fs::path& run, const bench& kept,
                 const private_names& names) {
    auto clean = scrub_bench(tree_of(run / member::bench), names, kept.trimmed.has_value());
    if (kept.trimmed) pack_trim(to, kept, names, clean.replaced);
    to.add_text(std::string{member::bench}, {yaml_text(clean.tree), clean.replaced});
    return read_bench((to.folder() / member::bench).string());
}

}  // namespace cvrig::evidence
