#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "rig/evidence/pack_sound.hpp"
#include "rig/evidence/scrub.hpp"

namespace cvrig::evidence {

/// The members of one evidence file while they are made ready, in the order in which they will lie in it.
class gathering {
public:
    /// `folder`: where the bytes lie until they are packed.
    explicit gathering(std::filesystem::path folder) : folder_{std::move(folder)} {}

    /// A text, and what was replaced in it.
    void add_text(std::string name, const scrubbed_text& text);
    /// A file as it is.
    void add_file(std::string name, const std::filesystem::path& file);
    void add_sound(std::vector<ready_member> parts);

    [[nodiscard]] const std::filesystem::path& folder() const noexcept { return folder_; }
    [[nodiscard]] const std::vector<ready_member>& members() const noexcept { return members_; }
    /// "3 paths and 1 user name, in bench.yaml and run.log"; empty if nothing was replaced.
    [[nodiscard]] std::string replaced_in_words() const;

private:
    std::filesystem::path folder_;
    std::vector<ready_member> members_;
    scrub_count replaced_;
    std::vector<std::string> replaced_in_;
};

}  // namespace cvrig::evidence
