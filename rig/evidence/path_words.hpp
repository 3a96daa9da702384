#pragma once

#include <cstddef>
#include <string_view>

namespace cvrig::evidence {

/// Where the first path of a line begins, from `from` on; npos if there is none. What a path is, says
/// scrub.hpp.
[[nodiscard]] std::size_t find_path(std::string_view line, std::size_t from) noexcept;

/// True for a word that is the name of a file: it ends in a dot and 1 to 10 letters or digits, the first of
/// which is a letter.
[[nodiscard]] bool has_file_ending(std::string_view word) noexcept;

/// True for a word that names a serial port: ttyACM0, ttyUSB1, ttyS0, COM3, cu.usbmodem1.
[[nodiscard]] bool is_port(std::string_view word) noexcept;

/// True for a word that is a mail address, a number address of the internet (four numbers up to
/// 255, or version 6 with a digit in it), or a computer of a home network ("desk.local"); each may end in
/// a port (":5025").
///
/// Source: RFC 4291, 2.2, for the forms of version 6; RFC 4007, 11.2, for its zone ("%eth0"); from memory.
[[nodiscard]] bool is_address(std::string_view word) noexcept;

/// True for "bench7:5025" after the word "TCP", and for "bench7.example.org:5025" after "on" and "to".
[[nodiscard]] bool is_host_with_port(std::string_view word, std::string_view before) noexcept;

}  // namespace cvrig::evidence
