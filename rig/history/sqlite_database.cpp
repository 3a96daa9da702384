#include "rig/history/sqlite_database.hpp"

#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>
#include <sqlite3.h>

#include <filesystem>
#include <type_traits>
#include <unordered_map>
#include <utility>

#include "rig/platform/access.hpp"

namespace cvrig::history {

namespace {

namespace fs = std::filesystem;

using std::chrono::milliseconds;

/// What SQLite's answer means for a person. Source: sqlite.org/rescode.html.
std::string why(const SQLite::Exception& e) {
    switch (e.getErrorCode()) {
        case SQLITE_FULL:
            return "the disk is full; make room";
        case SQLITE_READONLY:
            return "it is write-protected; give yourself the right to write it, or name another "
                   "with --history";
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return "another program keeps it locked; end that program, or try again";
        case SQLITE_CANTOPEN:
            return "it cannot be opened; look at the rights of the file and of its folder";
        case SQLITE_NOTADB:
            return "it is no history of cvrig; name another file with --history";
        case SQLITE_CORRUPT:
            return "it is damaged; keep a copy of it, and name a new file with --history";
        case SQLITE_IOERR:
            return "the disk is full or reports an error; make room, or look at the system's log";
        default:
            return fmt::format("SQLite says '{}'", e.what());
    }
}

void bind(SQLite::Statement& s, int index, const sql_value& v) {
    std::visit(
        [&](const auto& x) {
            if constexpr (std::is_same_v<std::decay_t<decltype(x)>, std::monostate>)
                s.bind(index);
            else
                s.bind(index, x);
        },
        v);
}

sql_value cell_of(const SQLite::Column& c) {
    if (c.isNull()) return std::monostate{};
    if (c.isInteger()) return c.getInt64();
    if (c.isFloat()) return c.getDouble();
    return c.getString();
}

class sqlite_database : public database {
public:
    sqlite_database(std::string file, const std::string& opened_as, int flags,
                    milliseconds patience)
        : file_{std::move(file)}, db_{opened_as, flags, static_cast<int>(patience.count())} {}

    using database::query;
    sql_rows query(const std::string& sql, const sql_values& parameters) override {
        return guarded([&] { return run(sql, parameters); });
    }
    void begin() override {
        guarded([&] { db_.exec("BEGIN IMMEDIATE"); });
    }
    void commit() override {
        guarded([&] { db_.exec("COMMIT"); });
    }
    void roll_back() noexcept override {
        // A failed write may have rolled back by itself already.
        static_cast<void>(db_.tryExec("ROLLBACK"));
    }
    [[nodiscard]] std::string_view id_column() const noexcept override {
        return "INTEGER PRIMARY KEY AUTOINCREMENT";
    }
    [[nodiscard]] bool has_table(const std::string& name) override {
        return guarded([&] { return db_.tableExists(name); });
    }
    [[nodiscard]] const std::string& address() const noexcept override { return file_; }

    /// Before anything is changed: somebody else's database must stay as it is.
    void require_ours(opening how) {
        if (has_table("cvrig_schema")) return;
        const auto tables = query("SELECT count(*) FROM sqlite_master", {}).front().whole(0);
        if (tables > 0)
            throw store_error{fmt::format(
                "The database {} holds tables of something else; name another with --history.",
                file_)};
        if (how == opening::to_read)
            throw store_error{fmt::format(
                "There is no history in {} yet; `cvrig run` begins one, or name another with "
                "--history.",
                file_)};
    }

    void prepare_to_write() {
        guarded([&] {
            db_.exec("PRAGMA journal_mode = WAL");
            db_.exec("PRAGMA synchronous = FULL");
            db_.exec("PRAGMA foreign_keys = ON");
        });
    }

private:
    template <class Work>
    auto guarded(const Work& work) -> decltype(work()) {
        try {
            return work();
        } catch (const SQLite::Exception& e) {
            throw store_error{fmt::format("The history {} cannot be used: {}.", file_, why(e))};
        }
    }

    /// Preparing costs more than running a small statement, and a run is some hundred of them.
    SQLite::Statement& prepared(const std::string& sql) {
        constexpr std::size_t most = 200;
        if (prepared_.size() > most) prepared_.clear();
        auto found = prepared_.find(sql);
        if (found == prepared_.end())
            found = prepared_.emplace(sql, std::make_unique<SQLite::Statement>(db_, sql)).first;
        return *found->second;
    }

    sql_rows run(const std::string& sql, const sql_values& parameters) {
        auto& s = prepared(sql);
        s.tryReset();  // its answer is the failure of the last time, which was told then
        int index = 0;
        for (const auto& v : parameters) bind(s, ++index, v);
        sql_rows rows;
        while (s.executeStep()) rows.push_back(row_of(s));
        s.tryReset();
        return rows;
    }

    static sql_row row_of(SQLite::Statement& s) {
        std::vector<sql_value> cells;
        cells.reserve(static_cast<std::size_t>(s.getColumnCount()));
        for (int i = 0; i < s.getColumnCount(); ++i) cells.push_back(cell_of(s.getColumn(i)));
        return sql_row{std::move(cells)};
    }

    std::string file_;
    SQLite::Database db_;
    std::unordered_map<std::string, std::unique_ptr<SQLite::Statement>> prepared_;
};

std::unique_ptr<sqlite_database> opened(const std::string& file, const std::string& as, int flags,
                                        milliseconds patience) {
    try {
        return std::make_unique<sqlite_database>(file, as, flags, patience);
    } catch (const SQLite::Exception& e) {
        throw store_error{fmt::format("The history {} cannot be used: {}.", file, why(e))};
    }
}

void make_folder_of(const fs::path& file) {
    std::error_code error;
    if (file.has_parent_path()) fs::create_directories(file.parent_path(), error);
    if (error)
        throw store_error{fmt::format(
            "The folder {} for the history cannot be made: {}; name another file with --history.",
            file.parent_path().string(), error.message())};
}

void require_file(const std::string& file) {
    std::error_code error;
    if (fs::is_directory(file, error))
        throw store_error{
            fmt::format("The history {} is a folder; name a file in it with --history.", file)};
    if (!fs::exists(file, error))
        throw store_error{
            fmt::format("There is no history at {}; `cvrig run` begins one, or name another with "
                        "--history.",
                        file)};
}

/// As SQLite's URIs want it (sqlite.org/uri.html).
std::string uri_of(const std::string& file) {
    std::string out = "file:";
    for (const char c : file)
        if (c == '%' || c == '?' || c == '#')
            out += fmt::format("%{:02X}", static_cast<unsigned char>(c));
        else
            out += c;
    return out;
}

/// Where even the log beside the file cannot be read or made, nobody can be writing either, and the
/// file is read as it lies there.
std::unique_ptr<sqlite_database> opened_to_read(const std::string& file, milliseconds patience) {
    try {
        auto db = opened(file, file, SQLite::OPEN_READONLY, patience);
        static_cast<void>(db->has_table("cvrig_schema"));
        return db;
    } catch (const store_error&) {
        std::error_code none;
        if (const auto size = fs::file_size(file + "-wal", none); !none && size > 0)
            throw store_error{fmt::format(
                "The newest runs of the history {} are still in its log beside it, which you have "
                "no right to use; let somebody who may write there run `cvrig history` once.",
                file)};
        return opened(file, uri_of(file) + "?immutable=1", SQLite::OPEN_READONLY | SQLite::OPEN_URI,
                      patience);
    }
}

}  // namespace

std::unique_ptr<database> open_sqlite(const std::string& file, opening how, milliseconds patience) {
    if (how == opening::to_write) {
        make_folder_of(file);
    } else {
        require_file(file);
        if (!may_read_and_write(file)) return opened_to_read(file, patience);
    }
    const int may_create = how == opening::to_write ? SQLite::OPEN_CREATE : 0;
    auto db = opened(file, file, SQLite::OPEN_READWRITE | may_create, patience);
    db->require_ours(how);
    db->prepare_to_write();
    return db;
}

}  // namespace cvrig::history
