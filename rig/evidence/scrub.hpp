#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace cvrig::evidence {

/// Names that must not be given away. A single character, and what every system has
/// (root, user, localhost), gives nothing away and is passed over.
struct private_names {
    std::vector<std::string> people, hosts, folders;
    std::vector<std::string> ports{};  ///< serial ports and their serial numbers
};

/// How much was replaced.
struct scrub_count {
    std::size_t paths{0};      ///< paths and file names
    std::size_t ports{0};      ///< serial ports
    std::size_t addresses{0};  ///< mail and network addresses, host names
    std::size_t people{0};     ///< user names

    [[nodiscard]] std::size_t all() const noexcept { return paths + ports + addresses + people; }
    scrub_count& operator+=(const scrub_count& more) noexcept;
};

/// A text without what is personal, and what it cost.
struct scrubbed_text {
    std::string text;
    scrub_count replaced;
};

/// Takes out of a text a reader may be given: paths, serial ports, addresses, the names of the user
/// and of the computer.
///
/// Definition: A path begins at a word with / or \ that looks like one: absolute, below ~ or .., with two
///             slashes and a letter, or with a slash and a file's ending. Since folders may have blanks in
///             their names, everything from there to the end of the line goes, or, if a quotation mark stands
///             before it, to the last such mark of the line. "<path>" takes its place. "V/oct", "12/34" and
///             "on / off" are none.
///             Words such as ttyACM0 and COM3 become "<port>", ann@example.org, 192.0.2.1, 2001:db8::1 and
///             desk.local become "<address>"; so does a host with its port after "TCP" and, if its name
///             has dots, after "on" and "to".
///             Names are found as whole words, in upper or lower case: "<user>", "<host>", "<port>".
/// Error:      what it does not know it cannot find: the name of a third person stays.
[[nodiscard]] scrubbed_text scrubbed(std::string_view text, const private_names& names);

}  // namespace cvrig::evidence
