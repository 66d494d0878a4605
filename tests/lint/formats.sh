#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# formats.sh SOURCE_DIR: docs/formats.md tells every key that the readers know, in its own section,
# every table and column of library and drive log, and every rule of "hills check".
set -eu
cd "$1"
bad=0
section() { # section HEADING: that part of the page
  awk -v heading="## $1" '/^## / { on = index($0, heading) == 1 } on' docs/formats.md
}
# tells SECTION WORDS...: each stands there as a word of its own, in code or before a colon
tells() {
  heading=$1; shift
  page=$(section "$heading")
  [ -n "$page" ] || { echo "docs/formats.md has no section \"$heading\""; bad=1; }
  [ "$#" -ge 3 ] || { echo "only $# words were found for \"$heading\""; bad=1; }
  for word in "$@"; do
    printf '%s\n' "$page" | grep -qE "(\`|\"|[{ (-]|^)$word(\`|\"|[:,*. )=]|$)" ||
      { echo "docs/formats.md, \"$heading\" does not tell of $word"; bad=1; }
  done
}
# called 'MACRO|MACRO' FILE: first texts of those calls, several a line
called() { grep -oE "($1)\\(\"[a-z_0-9]+\"" "$2" | sed 's/.*("//; s/"//' | sort -u; }
quoted() { sed -nE "$1" "$2" | sort -u; }
# shellcheck disable=SC2046 # lists of words
{
tells "Hill profile" \
  $(grep -oE '"[a-z_]+", [A-Z_]+, +read_' src/io/hill_property.c | cut -d'"' -f2) \
  $(quoted 's/.*\] = \{"([a-z-]+)", .*/\1/p' src/io/hill_feature.c) \
  $(sed -nE 's/.*td_found\(.*, "([a-z-]+)",.*/\1/p' src/tool/hills/hills_*.c | sort -u) \
  $(quoted 's/.*"([a-z_]+)", at->.*/\1/p' src/tool/hills/hills_found.c)
tells "Rig" $(called 'NEEDED|OPTIONAL|WORD|STRING_PTR|ENUM|SEQUENCE|MAPPING' src/io/rig_file.c)
tells "Settings" $(called 'TEXT|CHOICE' src/io/settings.c)
tells "Phrases" $(called 'TEXT|TEXT_MAYBE|COUNT|FIXED|MAPPING|MAPPING_PTR|SEQUENCE' \
  src/io/phrase_file.c) \
  $(quoted 's/.*= \{"([a-z_]+)", TD_[A-Z]+\}.*/\1/p' src/core/prompt.c)
tells "Drive log" \
  $(grep -oE 'CREATE TABLE [a-z]+' src/io/drive_schema.h | awk '{ print $3 }') \
  $(quoted 's/.*put_meta(_whole)?\(log, "([a-z_]+)".*/\2/p' src/io/drive_log.c)
tells "Library" \
  $(grep -oE 'CREATE (VIRTUAL )?TABLE [a-z]+' src/io/library_schema.h | awk '{ print $NF }') \
  $(grep -oE '[a-z_]+ (TEXT|REAL|BLOB|INTEGER)' src/io/library_schema.h | awk '{ print $1 }' |
    grep -v _deg | sort -u)
}
exit $bad
