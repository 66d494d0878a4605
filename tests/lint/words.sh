#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# words.sh SOURCE_DIR: calls that overflow or read a locale, unfinished words, sleeping tests, paths
# of somebody's machine.
set -eu
cd "$1"
bad=0
refuse() { # refuse "what" pattern folders...
  what=$1; pattern=$2; shift 2
  hits=$(grep -rnIE "$pattern" "$@" --include='*.[ch]' || true)
  [ -z "$hits" ] || { echo "$what:"; echo "$hits"; bad=1; }
}
refuse "banned call" '\b(sprintf|vsprintf|strcpy|strcat|atoi|atol|atof|gets|strtok|setlocale)\s*\(' src include
# One strict parser reads numbers from people: src/base/quantity.c.
refuse "strtod outside the quantity parser" '\bstrto(d|f|ld)\s*\(' src include
refuse "unfinished" '(TO''DO|FIX''ME|XX''X|not impl''emented)' src include
refuse "a test sleeps" '\b(sleep|usleep|nanosleep)\s*\(' tests
refuse "a clock is read outside io/clock" '\b(clock_gettime|gettimeofday|time)\s*\((CLOCK|&|NULL|0)' src/base src/core src/phrase src/sim src/survey src/daemon src/review
hits=$(grep -rnIE -e "$(pwd)/" -e '/home/[a-z]+/' src include tests docs profiles sounds README.md \
  DEVELOPERS.md CMakeLists.txt .cmake .ci --exclude=words.sh || true)
[ -z "$hits" ] || { echo "path of somebody's machine:"; echo "$hits"; bad=1; }
exit $bad
