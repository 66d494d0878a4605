#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# sizes.sh SOURCE_DIR: no source over 500 lines or 100 columns, every source with its licence line,
# and the top level holds what it should and nothing else.
set -eu
cd "$1"
bad=0
sources=$(find src include tests sounds -name '*.[ch]')
for file in $sources; do
  lines=$(wc -l < "$file")
  [ "$lines" -le 500 ] || { echo "$file has $lines lines, over 500"; bad=1; }
done
long=$(awk 'length($0) > 100 {print FILENAME ":" FNR ": " length($0) " columns"}' $sources)
[ -z "$long" ] || { echo "$long"; bad=1; }
for file in $sources $(find src tests sounds .ci .cmake -type f \( -name '*.sh' -o -name CMakeLists.txt -o -name '*.cmake' \)); do
  head -n 3 "$file" | grep -q 'SPDX-License-Identifier: GPL-3.0-or-later' ||
    { echo "$file lacks its SPDX line"; bad=1; }
done
for name in README.md DEVELOPERS.md CMakeLists.txt src include tests profiles sounds docs; do
  [ -e "$name" ] || { echo "top level lacks $name"; bad=1; }
done
extra=$(ls | grep -vxE 'README\.md|DEVELOPERS\.md|CMakeLists\.txt|src|include|tests|profiles|sounds|docs|build(-.*)?' || true)
[ -z "$extra" ] || { echo "top level has more than it should: $extra"; bad=1; }
exit $bad
