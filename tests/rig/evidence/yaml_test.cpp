// A tree that is written as YAML is read again as the same tree.

#include <rapidcheck.h>
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "rig/evidence/write_yaml.hpp"

using namespace cvrig;
using namespace cvrig::evidence;

namespace {

bool is_same(const yaml_node& a, const yaml_node& b) {
    if (a.what != b.what || a.text != b.text || a.items.size() != b.items.size() ||
        a.entries.size() != b.entries.size())
        return false;
    for (std::size_t i = 0; i < a.items.size(); ++i)
        if (!is_same(a.items[i], b.items[i])) return false;
    for (std::size_t i = 0; i < a.entries.size(); ++i)
        if (a.entries[i].key != b.entries[i].key ||
            !is_same(a.entries[i].value, b.entries[i].value))
            return false;
    return true;
}

yaml_node tree_of(const std::string& text) {
    complaint_list wrong;
    auto out = read_yaml(text, "x.yaml", wrong);
    wrong.raise();
    return out;
}

/// Texts with every sign that means something to YAML.
rc::Gen<std::string> any_text() {
    return rc::gen::container<std::string>(
        rc::gen::elementOf(std::string{"abcxyz019 -:,#'\"[]{}&*!|>%@`?\\/~=.+\n\t\x07<"}));
}

yaml_entry entry(const char* kind, int number, yaml_node content) {
    yaml_entry out;
    out.key = kind + std::string{" "} + std::to_string(number);
    out.value = std::move(content);
    return out;
}

yaml_node any_node(int depth) {
    yaml_node out;
    const int kind = *rc::gen::inRange(0, depth > 0 ? 4 : 2);
    const int count = *rc::gen::inRange(0, 4);
    switch (kind) {
        case 0:
            out.what = yaml_node::kind::text;
            out.text = *any_text();
            break;
        case 1:
            break;
        case 2:
            out.what = yaml_node::kind::list;
            for (int i = 0; i < count; ++i) out.items.push_back(any_node(depth - 1));
            break;
        default:
            out.what = yaml_node::kind::map;
            for (int i = 0; i < count; ++i)
                out.entries.push_back(entry("key", i, any_node(depth - 1)));
    }
    return out;
}

}  // namespace

TEST_CASE("any tree survives", "[evidence]") {
    rc::check("round trip", [] {
        yaml_node root;
        root.what = yaml_node::kind::map;
        const int count = *rc::gen::inRange(1, 4);
        for (int i = 0; i < count; ++i) root.entries.push_back(entry("top", i, any_node(4)));
        const auto text = yaml_text(root);
        RC_LOG(text);
        RC_ASSERT(is_same(tree_of(text), root));
    });
}

TEST_CASE("the demo's files survive, without their comments", "[evidence]") {
    const auto* name = GENERATE("ferrule.expectations.yaml", "desk.bench.yaml", "live.bench.yaml");
    std::ifstream in{std::string{CVRIG_DEMO} + "/" + name};
    std::ostringstream file;
    file << in.rdbuf();
    const auto root = tree_of(file.str());
    const auto text = yaml_text(root);
    CHECK(is_same(tree_of(text), root));
    CHECK(text.find(" # ") == std::string::npos);
    CHECK(text.find("\n#") == std::string::npos);
}

TEST_CASE("short maps and lists stay on one line", "[evidence]") {
    const std::string text =
        "format: cvrig bench 1\nlink:\n  program: [ferrule, \"{stimulus}\"]\n  rate: 48 kHz\n"
        "inputs: [{jack: left}, {jack: right}]\nempty: null\n";
    CHECK(yaml_text(tree_of(text)) == text);
}
