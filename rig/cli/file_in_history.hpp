#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "rig/history/database.hpp"
#include "rig/history/file_run.hpp"

namespace cvrig {

/// Files the report of a folder, in a transaction of its own; a report that is there already is told so.
/// Throws user_error for what is no report folder, history::store_error for what cannot be written.
history::filed_run file_report_folder(history::database& in, const std::filesystem::path& folder);

/// What came of filing a run; both empty where no history is kept.
struct filing_told {
    std::string place;    ///< where it is now
    std::string trouble;  ///< why it is not, and how to file it later
};

/// The history of one run of the rig: opened before anything plays, so that a run is not lost to a store
/// that cannot be written; filed when its reports lie there.
class run_filing {
public:
    /// `option` is what --history says. Throws history::store_error for one that was named; that the
    /// user's own cannot be used is only told in the end, since nobody asked for it.
    explicit run_filing(const std::string& option);

    /// The reports are written and stay what they are: a run that cannot be filed now is not lost.
    [[nodiscard]] filing_told file(const std::filesystem::path& report_folder);

    /// Null where no history is kept.
    [[nodiscard]] history::database* store() noexcept { return store_.get(); }

    /// Why it is not kept now; empty: it is, or was not to be.
    [[nodiscard]] const std::string& trouble() const noexcept { return trouble_; }

private:
    std::unique_ptr<history::database> store_;
    std::string trouble_;
};

}  // namespace cvrig
