#pragma once

#include "demo/console/error_queue.hpp"
#include "demo/console/program_message.hpp"

#include <functional>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace ferrule {

/// Why a command was not carried out: an error number of SCPI-99 and what it does not say.
class command_error : public std::runtime_error {
public:
    explicit command_error(int number, const std::string& more = {})
        : std::runtime_error{more}, number_{number} {}
    [[nodiscard]] int number() const noexcept { return number_; }

private:
    int number_;
};

/// What the parameters of a command are to it; a query gives its answer, a command nothing.
using command_action = std::function<std::string(const std::vector<std::string>&)>;

/// A command or query that an instrument understands.
struct command {
    std::string pattern;  ///< "SYSTem:ERRor[:NEXT]?", "*RST"
    std::size_t fewest_parameters;
    std::size_t most_parameters;
    command_action act;
};

/// The message exchange of IEEE 488.2-1992 and SCPI-99 over lines: headers, status registers, the
/// error queue and the common commands that need no instrument behind them.
class instrument {
public:
    /// `own`: what this instrument can do beside *CLS, *ESE, *ESR?, *OPC, *SRE, *STB?, *WAI,
    /// SYSTem:ERRor?, SYSTem:VERSion? and STATus.
    explicit instrument(std::vector<command> own);
    instrument(const instrument&) = delete;
    instrument& operator=(const instrument&) = delete;

    /// Carries out a line; the answers of its queries with semicolons between them, or nothing.
    std::string obey(std::string_view line);

    /// As after switching on: the queue and the enabling registers are empty.
    void power_on();

private:
    void add_common_commands();
    void add_status_commands();
    void add_register(const std::string& header, int& mask, int most);
    [[nodiscard]] std::vector<std::string> path_of(const message_unit& unit);
    [[nodiscard]] const command& find(const message_unit& unit);
    void obey_unit(const message_unit& unit);
    [[nodiscard]] int status_byte() const noexcept;
    void report(int number, const std::string& more);

    std::vector<command> commands_;
    std::vector<std::string> path_;  ///< of the header before, without its last word
    std::string answers_;
    error_queue errors_;
    int events_ = 0;
    int events_enabled_ = 0;
    int service_enabled_ = 0;
    int operation_enabled_ = 0;
    int questionable_enabled_ = 0;
};

}  // namespace ferrule
