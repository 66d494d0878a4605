#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# sizes.sh SOURCE_DIR: no source over 500 lines or 100 columns, every source with its licence line,
# and the top level holds what it should and nothing else.
set -eu
cd "$1"
bad=0
sources=$(find src include tests sounds -name '*.[ch]')
# One awk over everything: a process a file took half a minute on a loaded machine.
scripts=$(find src tests sounds .ci .cmake -type f \
  \( -name '*.sh' -o -name CMakeLists.txt -o -name '*.cmake' \))
found=$(awk '
  function finish() {
    if (name == "") return
    if (counted && lines > 500) print name " has " lines " lines, over 500"
    if (!licence) print name " lacks its SPDX line"
  }
  FNR == 1 { finish(); name = FILENAME; licence = 0; counted = name ~ /\.[ch]$/ }
  { lines = FNR }
  FNR <= 3 && /SPDX-License-Identifier: GPL-3.0-or-later/ { licence = 1 }
  counted && length($0) > 100 { print FILENAME ":" FNR ": " length($0) " columns" }
  END { finish() }' $sources $scripts)
[ -z "$found" ] || { echo "$found"; bad=1; }
for name in README.md DEVELOPERS.md CMakeLists.txt src include tests profiles sounds docs; do
  [ -e "$name" ] || { echo "top level lacks $name"; bad=1; }
done
extra=$(ls | grep -vxE 'README\.md|DEVELOPERS\.md|CMakeLists\.txt|src|include|tests|profiles|sounds|docs|build(-.*)?' || true)
[ -z "$extra" ] || { echo "top level has more than it should: $extra"; bad=1; }
exit $bad
