#include "schema_check.hpp"

#include <fstream>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

namespace cvrig::testing {

std::string schema_complaints(const nlohmann::json& document) {
    std::ifstream in{CVRIG_REPORT_SCHEMA};
    const auto rules = nlohmann::json::parse(in);
    valijson::Schema schema;
    valijson::SchemaParser parser;
    parser.populateSchema(valijson::adapters::NlohmannJsonAdapter{rules}, schema);
    valijson::Validator validator;
    valijson::ValidationResults results;
    validator.validate(schema, valijson::adapters::NlohmannJsonAdapter{document}, &results);
    std::string all;
    valijson::ValidationResults::Error error;
    while (results.popError(error)) all.append(error.description).append("\n");
    return all;
}

}  // namespace cvrig::testing
