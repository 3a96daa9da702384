#include "rig/expectations/expectations.hpp"

#include <algorithm>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/format_line.hpp"
#include "rig/expectations/module_sections.hpp"
#include "rig/expectations/read_checks.hpp"
#include "rig/expectations/text_file.hpp"
#include "rig/platform/files.hpp"

namespace cvrig {

const value* keyed_value::find(const setting_choice& choice) const {
    if (!setting.empty()) {
        const auto chosen = choice.find(setting);
        if (chosen != choice.end()) {
            const auto found = by_value.find(chosen->second);
            if (found != by_value.end()) return &found->second;
        }
    }
    return otherwise ? &*otherwise : nullptr;
}

const driven_jack* module_expectations::find_jack(std::string_view name) const {
    const auto found = std::find_if(drive.begin(), drive.end(),
                                    [&](const driven_jack& j) { return j.name == name; });
    return found == drive.end() ? nullptr : &*found;
}

module_expectations read_expectations(const std::string& file, std::span<const check_spec> known) {
    const auto text = read_text_file(file);
    complaint_list wrong;
    const auto root = read_yaml(text, file, wrong);
    require_format(root, "expectations", wrong);

    const fields top{root,
                     "an expectation file",
                     {"format", "module", "pitch", "drive", "listen", "settings", "console",
                      "outputs one by one", "calibration", "judging", "checks"},
                     wrong};
    module_expectations m;
    m.file = file;
    m.sha256 = sha256_of(text);
    if (const auto* name = top.required("module")) {
        m.module = text_of(*name, "module", wrong);
        if (!is_name({m.module, name->where}, "a module", wrong)) m.module.clear();
    }
    for (const auto* key : {"pitch", "drive", "listen", "checks"}) {
        static_cast<void>(top.required(key));
    }
    read_pitch(root, m, wrong);
    read_drive(root, m, wrong);
    read_listen(root, m, wrong);
    read_settings(root, m, wrong);
    read_console(root, m, wrong);
    read_routes(root, m, wrong);
    read_calibration(root, m, wrong);
    read_judging(root, m, wrong);
    read_checks(root, known, m, wrong);
    wrong.raise();
    return m;
}

}  // namespace cvrig
