# SPDX-License-Identifier: GPL-3.0-or-later
# Compiler settings for every target of ours, in one interface target: td_flags.
if(NOT CMAKE_BUILD_TYPE AND NOT CMAKE_CONFIGURATION_TYPES)
  set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "" FORCE)
endif()
set(CMAKE_C_STANDARD 11)
set(CMAKE_C_STANDARD_REQUIRED ON)
set(CMAKE_C_EXTENSIONS OFF)

add_library(td_flags INTERFACE)
target_include_directories(td_flags INTERFACE ${PROJECT_SOURCE_DIR}/include
                                              ${PROJECT_SOURCE_DIR}/src)
target_compile_definitions(td_flags INTERFACE _POSIX_C_SOURCE=200809L)
target_compile_options(td_flags INTERFACE
  -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wdouble-promotion -Wstrict-prototypes
  -Wmissing-prototypes -Wformat=2 -Wundef -Wvla
  # Contraction differs between compilers; replay must say the same on each.
  -ffp-contract=off -fno-fast-math
  # Nothing of the build machine's paths in binaries or messages.
  -ffile-prefix-map=${PROJECT_SOURCE_DIR}/=)
if(TD_WERROR)
  target_compile_options(td_flags INTERFACE -Werror)
endif()
if(TD_SANITIZE)
  set(td_sanitize_flags -fsanitize=${TD_SANITIZE} -fno-omit-frame-pointer)
  if(TD_SANITIZE MATCHES "undefined")
    list(APPEND td_sanitize_flags -fno-sanitize-recover=all)
  endif()
  target_compile_options(td_flags INTERFACE ${td_sanitize_flags})
  target_link_options(td_flags INTERFACE ${td_sanitize_flags})
endif()

# td_module(NAME SOURCES... [LINK LIBS...]): one static library for one folder under src.
function(td_module name)
  cmake_parse_arguments(arg "" "" "LINK" ${ARGN})
  add_library(${name} STATIC ${arg_UNPARSED_ARGUMENTS})
  target_link_libraries(${name} PUBLIC td_flags ${arg_LINK})
endfunction()
