#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/check_spec.hpp"
#include "rig/expectations/expectations.hpp"

/// A file in the temporary folder that disappears with its object.
class scratch_file {
public:
    explicit scratch_file(std::string_view bytes);
    ~scratch_file();
    scratch_file(const scratch_file&) = delete;
    scratch_file& operator=(const scratch_file&) = delete;

    [[nodiscard]] std::string path() const { return path_.string(); }

private:
    std::filesystem::path path_;
};

/// The contents of a file of tests/data.
[[nodiscard]] std::string data_text(const std::string& name);

/// `text` with its only occurrence of `what` replaced.
[[nodiscard]] std::string edited(std::string text, const std::string& what,
                                 const std::string& with);

/// Checks for the tests, with every form of key.
[[nodiscard]] const std::vector<cvrig::check_spec>& test_checks();

/// What reading says about a file with these bytes: "LINE:COLUMN: sentence" for each complaint,
/// without the position where a complaint has none. Empty if all is well.
[[nodiscard]] std::vector<std::string> complaints_about_expectations(std::string_view bytes);
[[nodiscard]] std::vector<std::string> complaints_about_bench(std::string_view bytes);

/// A valid file with these bytes, read.
[[nodiscard]] cvrig::module_expectations read_text(std::string_view bytes);
