#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# headers.sh SOURCE_DIR COMPILER: every header compiles alone.
set -eu
cd "$1"
bad=0
for header in include/talkdown/*.h src/*/*.h src/*/*/*.h; do
  "$2" -std=c11 -D_POSIX_C_SOURCE=200809L -Wall -Wextra -Werror -fsyntax-only -Iinclude -Isrc -x c \
    "$header" || { echo "$header does not compile alone"; bad=1; }
done
exit $bad
