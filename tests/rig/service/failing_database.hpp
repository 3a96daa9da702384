#pragma once

#include <atomic>
#include <memory>
#include <utility>

#include "rig/history/database.hpp"

namespace cvrig::testing {

/// A history that can be made to refuse everything, as one that is locked or whose disk is full.
class failing_database : public history::database {
public:
    explicit failing_database(std::unique_ptr<history::database> real) : real_{std::move(real)} {}

    void refuse(bool does) { refuses_ = does; }
    /// How often it has refused.
    [[nodiscard]] int refused() const { return refused_; }

    using database::query;
    history::sql_rows query(const std::string& sql, const history::sql_values& values) override {
        let_pass();
        return real_->query(sql, values);
    }
    void begin() override {
        let_pass();
        real_->begin();
    }
    void commit() override { real_->commit(); }
    void roll_back() noexcept override { real_->roll_back(); }
    [[nodiscard]] std::string_view id_column() const noexcept override {
        return real_->id_column();
    }
    [[nodiscard]] bool has_table(const std::string& name) override {
        return real_->has_table(name);
    }
    [[nodiscard]] const std::string& address() const noexcept override { return real_->address(); }

private:
    void let_pass() {
        if (!refuses_) return;
        ++refused_;
        throw history::store_error{"The disk is full."};
    }

    std::unique_ptr<history::database> real_;
    std::atomic<bool> refuses_{false};
    std::atomic<int> refused_{0};
};

}  // namespace cvrig::testing
