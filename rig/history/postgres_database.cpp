#include "rig/history/postgres_database.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>
#include <pqxx/pqxx>
#include <utility>

namespace cvrig::history {

namespace {

constexpr int patience_s = 10;
/// What writers of a history wait for each other with: any number that nobody else uses.
constexpr std::int64_t writers_lock = 0x6376726967;  // "cvrig"

std::string first_line(std::string_view text) {
    while (!text.empty() && (text.back() == '\n' || text.back() == '.')) text.remove_suffix(1);
    return std::string{text.substr(0, text.find('\n'))};
}

/// What the server's answer means for a person. Source: PostgreSQL 15 documentation, appendix A.
std::string why(const std::string& state, std::string_view said) {
    struct meaning {
        std::string_view state, words;
    };
    static constexpr std::array meanings{
        meaning{"55P03", "another program has kept it locked for 10 s; end that program"},
        meaning{"42501", "you have no right to do this there; ask whoever runs the server"},
        meaning{"25006", "it may only be read; name another with --history"},
        meaning{"53100", "the server's disk is full; make room there"},
        meaning{"57P01", "the server is being stopped; start it again"},
        meaning{"22021", "it keeps UTF-8 only, and a text of this run is none"},
    };
    for (const auto& m : meanings)
        if (m.state == state) return std::string{m.words};
    return fmt::format("the server says '{}'", first_line(said));
}

/// A server keeps no zero byte; U+FFFD is Unicode's own word for what cannot be shown.
std::string without_zeros(std::string text) {
    for (auto at = text.find('\0'); at != std::string::npos; at = text.find('\0', at))
        text.replace(at, 1, "\xEF\xBF\xBD");
    return text;
}

/// A parameter as the server reads it; nothing for NULL.
std::optional<std::string> text_of(const sql_value& v) {
    if (std::holds_alternative<std::monostate>(v)) return std::nullopt;
    if (const auto* text = std::get_if<std::string>(&v)) return without_zeros(*text);
    if (const auto* whole = std::get_if<std::int64_t>(&v)) return fmt::format("{}", *whole);
    return fmt::format("{}", std::get<double>(v));  // the shortest that is read as the same
}

/// Numbers of types in the server's table pg_type, which never change.
namespace type_number {
constexpr pqxx::oid boolean = 16, int8 = 20, int2 = 21, int4 = 23, float4 = 700, float8 = 701,
                    numeric = 1700;
}

sql_value cell_of(const pqxx::field& f) {
    if (f.is_null()) return std::monostate{};
    switch (f.type()) {
        case type_number::boolean:
            return std::int64_t{f.as<bool>() ? 1 : 0};
        case type_number::int8:
        case type_number::int2:
        case type_number::int4:
            return f.as<std::int64_t>();
        case type_number::float4:
        case type_number::float8:
        case type_number::numeric:
            return f.as<double>();
        default:
            return f.as<std::string>();
    }
}

sql_rows rows_of(const pqxx::result& answer) {
    sql_rows rows;
    rows.reserve(answer.size());
    for (const auto& row : answer) {
        std::vector<sql_value> cells;
        cells.reserve(row.size());
        for (const auto& field : row) cells.push_back(cell_of(field));
        rows.emplace_back(std::move(cells));
    }
    return rows;
}

/// libpq's own waiting has no end.
std::string with_patience(const std::string& address) {
    if (address.find("connect_timeout=") != std::string::npos) return address;
    const char joint = address.find('?') == std::string::npos ? '?' : '&';
    return fmt::format("{}{}connect_timeout={}&fallback_application_name=cvrig", address, joint,
                       patience_s);
}

/// A connection, as the history wants it set up.
struct session {
    explicit session(const std::string& address)
        : connection{with_patience(address)}, quiet{connection} {
        connection.set_variable("client_encoding", "'UTF8'");
        connection.set_variable("client_min_messages", "'warning'");
        connection.set_variable("lock_timeout", fmt::format("'{} s'", patience_s));
    }
    pqxx::connection connection;
    pqxx::quiet_errorhandler quiet;  // what goes wrong is told once, by an exception
};

class postgres_database : public database {
public:
    explicit postgres_database(const std::string& address)
        : asked_{address}, shown_{without_password(address)} {
        static_cast<void>(connected());
    }

    using database::query;
    sql_rows query(const std::string& sql, const sql_values& parameters) override {
        return guarded([&] {
            if (writing_) return run(*writing_, sql, parameters);
            pqxx::nontransaction once{connected()};
            return run(once, sql, parameters);
        });
    }
    void begin() override {
        guarded([&] {
            auto all = std::make_unique<pqxx::work>(connected());
            all->exec_params("SELECT pg_advisory_xact_lock($1)", writers_lock);
            writing_ = std::move(all);
        });
    }
    void commit() override {
        guarded([&] { writing_->commit(); });
        writing_.reset();
    }
    void roll_back() noexcept override { writing_.reset(); }
    [[nodiscard]] std::string_view id_column() const noexcept override {
        return "BIGINT GENERATED BY DEFAULT AS IDENTITY PRIMARY KEY";
    }
    [[nodiscard]] bool has_table(const std::string& name) override {
        // Not to_regclass(): while it waits for another writer it keeps believing what was so before.
        return !query(
                    "SELECT 1 FROM pg_catalog.pg_tables WHERE schemaname = current_schema() AND "
                    "tablename = $1",
                    {name})
                    .empty();
    }
    [[nodiscard]] const std::string& address() const noexcept override { return shown_; }

private:
    template <class Work>
    auto guarded(const Work& work) const -> decltype(work()) {
        try {
            return work();
        } catch (const pqxx::sql_error& e) {
            throw unusable(why(e.sqlstate(), e.what()));
        } catch (const pqxx::failure& e) {
            throw unusable(why({}, e.what()));
        }
    }
    [[nodiscard]] store_error unusable(const std::string& reason) const {
        return store_error{fmt::format("The history {} cannot be used: {}.", shown_, reason)};
    }

    /// A connection that was lost is made anew, but never in the middle of a transaction.
    [[nodiscard]] pqxx::connection& connected() {
        if (session_ && session_->connection.is_open()) return session_->connection;
        try {
            session_ = std::make_unique<session>(asked_);
            return session_->connection;
        } catch (const pqxx::failure& e) {
            const auto said = first_line(e.what());
            // What libpq says of an address that it cannot read has the whole of it inside.
            if (said.find("URI") != std::string::npos)
                throw unusable("the address cannot be read; write postgresql://USER@HOST/DATABASE");
            throw unusable(fmt::format("no connection; {}", said));
        }
    }

    [[nodiscard]] static sql_rows run(pqxx::transaction_base& in, const std::string& sql,
                                      const sql_values& parameters) {
        std::vector<std::optional<std::string>> texts;
        texts.reserve(parameters.size());
        for (const auto& p : parameters) texts.push_back(text_of(p));
        std::vector<const char*> passed;
        passed.reserve(texts.size());
        for (const auto& t : texts) passed.push_back(t ? t->c_str() : nullptr);
        return rows_of(in.exec_params(sql, pqxx::prepare::make_dynamic_params(passed)));
    }

    std::string asked_, shown_;  ///< the address; without its password
    std::unique_ptr<session> session_;
    std::unique_ptr<pqxx::work> writing_;
};

}  // namespace

bool is_postgres_address(std::string_view address) noexcept {
    return address.starts_with("postgresql://") || address.starts_with("postgres://");
}

std::string without_password(const std::string& address) {
    std::string out = address;
    // After the scheme, USER:PASSWORD stands before the first @ of what precedes the path.
    const auto start = out.find("://") + 3;
    const auto end = std::min(out.find_first_of("/?", start), out.size());
    const auto at = out.rfind('@', end);
    const auto colon = out.find(':', start);
    if (at != std::string::npos && at > start && colon < at) out.erase(colon, at - colon);
    const auto named = out.find("password=");
    if (named != std::string::npos) {
        const auto from = named + std::string_view{"password="}.size();
        out.replace(from, std::min(out.find('&', from), out.size()) - from, "...");
    }
    return out;
}

std::unique_ptr<database> open_postgres(const std::string& address, opening how) {
    auto db = std::make_unique<postgres_database>(address);
    if (how == opening::to_read && !db->has_table("cvrig_schema"))
        throw store_error{
            fmt::format("There is no history at {}; `cvrig run` begins one, or name another with "
                        "--history.",
                        db->address())};
    return db;
}

}  // namespace cvrig::history
