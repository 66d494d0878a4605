# SPDX-License-Identifier: GPL-3.0-or-later
# td_test(KIND NAME [LIBS...]): tests/KIND/test_NAME.c becomes the ctest "KIND.NAME", a cmocka
# program that links LIBS and the test support library. Tests read data from the paths below.
add_library(td_test_flags INTERFACE)
target_link_libraries(td_test_flags INTERFACE td_flags PkgConfig::CMOCKA)
target_include_directories(td_test_flags INTERFACE ${PROJECT_SOURCE_DIR}/tests)
target_compile_definitions(td_test_flags INTERFACE
  TD_SOURCE_DIR="${PROJECT_SOURCE_DIR}" TD_SHARED_DIR="${TD_SHARED_DIR}")

find_program(TD_VALGRIND valgrind)

function(td_test kind name)
  set(target test_${kind}_${name})
  add_executable(${target} ${PROJECT_SOURCE_DIR}/tests/${kind}/test_${name}.c)
  target_link_libraries(${target} PRIVATE td_test_flags ${ARGN})
  add_test(NAME ${kind}.${name} COMMAND ${target}
           WORKING_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR})
  set_tests_properties(${kind}.${name} PROPERTIES LABELS ${kind} TIMEOUT 300
                       SKIP_RETURN_CODE 77)
  # The unit tests once more under valgrind, where it is installed and no sanitizer is in the way. Of
  # the pure modules only those through which everything goes: they have no heap to leak.
  set(impure ${ARGN})
  list(FILTER impure EXCLUDE REGEX "^(td_base|td_core|td_phrase|td_sim|td_survey|m)$")
  if(TD_VALGRIND AND kind STREQUAL "unit" AND NOT TD_SANITIZE AND
     (impure OR name MATCHES "^(coach|queue|locate|plan)$") AND NOT name MATCHES "^(policy_table)$")
    add_test(NAME valgrind.${name}
             COMMAND ${TD_VALGRIND} --quiet --error-exitcode=9 --leak-check=full
                     --errors-for-leak-kinds=definite --child-silent-after-fork=yes
                     --suppressions=${PROJECT_SOURCE_DIR}/tests/support/valgrind.supp
                     $<TARGET_FILE:${target}>
             WORKING_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR})
    set_tests_properties(valgrind.${name} PROPERTIES LABELS valgrind TIMEOUT 600
                         SKIP_RETURN_CODE 77)
  endif()
endfunction()

# The same below a private sound server (tests/support/sound_server.sh); skipped where there is none.
function(td_sound_test kind name)
  set(target test_${kind}_${name})
  add_executable(${target} ${PROJECT_SOURCE_DIR}/tests/${kind}/test_${name}.c)
  target_link_libraries(${target} PRIVATE td_test_flags ${ARGN})
  add_test(NAME ${kind}.${name}
           COMMAND sh ${PROJECT_SOURCE_DIR}/tests/support/sound_server.sh run
                   $<TARGET_FILE:${target}>
           WORKING_DIRECTORY ${CMAKE_CURRENT_BINARY_DIR})
  set_tests_properties(${kind}.${name} PROPERTIES LABELS ${kind} TIMEOUT 300
                       SKIP_RETURN_CODE 77 ENVIRONMENT
                       TSAN_OPTIONS=suppressions=${PROJECT_SOURCE_DIR}/tests/support/tsan.supp)
endfunction()

# td_sound_script(KIND NAME ARGS...): tests/KIND/NAME.sh below a private sound server.
function(td_sound_script kind name)
  add_test(NAME ${kind}.${name}
           COMMAND sh ${PROJECT_SOURCE_DIR}/tests/support/sound_server.sh run
                   sh ${PROJECT_SOURCE_DIR}/tests/${kind}/${name}.sh ${ARGN})
  set_tests_properties(${kind}.${name} PROPERTIES LABELS ${kind} TIMEOUT 300
                       SKIP_RETURN_CODE 77 ENVIRONMENT
                       TSAN_OPTIONS=suppressions=${PROJECT_SOURCE_DIR}/tests/support/tsan.supp)
endfunction()
