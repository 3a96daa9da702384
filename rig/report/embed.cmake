# Turns files into one C++ source of byte arrays: cmake -DOUTPUT=x.cpp -DINPUTS=name=path|name=path -P embed.cmake
string(REPLACE "|" ";" INPUTS "${INPUTS}")
set(body "#include \"rig/report/embedded.hpp\"\n\nnamespace cvrig::report {\n\n")
foreach(input IN LISTS INPUTS)
  string(REGEX MATCH "^([a-z_]+)=(.*)$" matched "${input}")
  set(name ${CMAKE_MATCH_1})
  file(READ "${CMAKE_MATCH_2}" bytes HEX)
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "'\\\\x\\1'," bytes "${bytes}")
  string(APPEND body "namespace {\nconstexpr char ${name}_bytes[] = {${bytes}};\n}\n"
                     "std::string_view ${name}() noexcept {\n"
                     "    return {${name}_bytes, sizeof ${name}_bytes};\n}\n\n")
endforeach()
file(WRITE "${OUTPUT}" "${body}}  // namespace cvrig::report\n")
