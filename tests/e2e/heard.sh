#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# heard.sh TALKDOWN RECOGNISE SOURCE_DIR: the sound of a rehearsal holds the words of its list of
# prompts, and the list of another hill is not agreed to.
set -eu
talkdown=$1 recognise=$2 source=$3
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
fail() { echo "heard.sh: $*" >&2; exit 1; }

drive() { # drive HILL RIG OUT
  "$talkdown" rehearse "$source/profiles/hills/$1.geojson" --rig "$source/profiles/rigs/$2.yaml" \
    --seed 1 --out "$dir/$3" >/dev/null || fail "rehearse $1 gave $?"
}
drive vessarin-drop box-truck drop
drive tavinek-switchbacks five-axle bends
[ "$(grep -c ' spoken ' "$dir/drop/prompts.txt")" -ge 5 ] || fail "hardly a prompt was spoken"
code=0
"$recognise" "$dir/drop/voice.wav" --expect "$dir/drop/prompts.txt" || code=$?
[ "$code" != 77 ] || exit 77
[ "$code" = 0 ] || fail "the sound does not hold the words"
code=0
"$recognise" "$dir/drop/voice.wav" --expect "$dir/bends/prompts.txt" >/dev/null || code=$?
[ "$code" = 1 ] || fail "another hill's list gave $code, not 1"
