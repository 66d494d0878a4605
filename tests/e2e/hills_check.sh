#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# hills_check.sh TALKDOWN SOURCE_DIR: every rule of "hills check" has a profile that breaks it and no
# other (data/check, expected.tsv: file, severity, rule, place, words); the good ones break none.
set -eu
talkdown=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
cp -r "$2/tests/e2e/data/check" "$work/check"
cd "$work/check"
bad=0 rows=0
fail() { echo "hills_check.sh: $*"; bad=$((bad + 1)); }

# findings EXIT PATH: into found.json and found.txt
findings() {
  for form in json txt; do
    option=; [ $form = txt ] || option=--json
    code=0
    # shellcheck disable=SC2086 # one option or none
    "$talkdown" hills check "$2" $option > "$work/found.$form" 2> "$work/err.txt" || code=$?
    [ "$code" = "$1" ] || fail "$2 ($form): exit $code, not $1"
    [ ! -s "$work/err.txt" ] || fail "$2: $(cat "$work/err.txt")"
  done
}

while IFS='	' read -r name severity rule place words; do
  rows=$((rows + 1))
  path=$name; [ -d "$name" ] || path=$name.geojson
  right=0; [ "$severity" = warning ] || right=1
  findings $right "$path"
  [ "$(wc -l < "$work/found.json")" = 1 ] || fail "$path: not one finding: $(cat "$work/found.json")"
  grep -q "\"severity\": \"$severity\", \"rule\": \"$rule\"," "$work/found.json" ||
    fail "$path: not $severity $rule: $(cat "$work/found.json")"
  grep -qF -- "$words" "$work/found.json" || grep -qF -- "$words" "$work/found.txt" ||
    fail "$path: does not say \"$words\": $(cat "$work/found.json")"
  [ "$place" = - ] && shown=null || shown="\"$place\""
  grep -q "\"place\": $shown" "$work/found.json" || fail "$path: not at $place: $(cat "$work/found.json")"
  grep -qE '"line": [0-9]+,' "$work/found.json" || fail "$path: no line: $(cat "$work/found.json")"
  grep -qE '"cure": "[^"]' "$work/found.json" || fail "$path: no cure: $(cat "$work/found.json")"
  grep -qE "^$name[^ ]*:[0-9]+: $severity: .*(;|must) .* \[$rule\]$" "$work/found.txt" ||
    fail "$path: $(cat "$work/found.txt")"
done < expected.tsv
[ "$rows" -ge 28 ] || fail "only $rows rows"
files=$(ls -d -- *.geojson id-twice same-road | wc -l)
[ "$files" = $((rows + 1)) ] || fail "$files files for $rows rows and a good one"

for path in good.geojson several "$2/profiles/hills/ombral-pass.geojson"; do
  findings 0 "$path"
  [ ! -s "$work/found.json" ] || fail "$path: $(cat "$work/found.json")"
done
# Of a library it says the same; two libraries with a hill in common have its id twice.
"$talkdown" hills pack several --out a.hills > /dev/null
findings 0 a.hills
[ ! -s "$work/found.json" ] || fail "a.hills: $(cat "$work/found.json")"
code=0; "$talkdown" hills check good.geojson a.hills > "$work/found.txt" || code=$?
[ "$code" = 1 ] && grep -q 'id-twice' "$work/found.txt" && grep -q 'same-road' "$work/found.txt" ||
  fail "a hill and its library: $(cat "$work/found.txt")"
# What cannot be looked at is no answer.
findings 2 none.geojson
echo "$rows rules and readings, $bad not as they should be"
[ "$bad" = 0 ]
