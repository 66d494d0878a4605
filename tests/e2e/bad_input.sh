#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# bad_input.sh TALKDOWN SOURCE_DIR: whatever is wrong with a file, the tool says so in one clear line
# that names it, exits 2 and writes nothing.
set -eu
talkdown=$1 source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
cd "$work"
hill=$source/profiles/hills/ombral-pass.geojson
rig=$source/profiles/rigs/five-axle.yaml
track=$source/tests/fuzz/corpus/track/small.gpx
mkdir in
bad=0 tried=0
fail() { echo "bad_input.sh: $*"; bad=$((bad + 1)); }

# refused FILE WORDS COMMAND...: exit 2, nothing on standard output, one line on standard error that
# names the file and holds the words, and nothing new in this folder
refused() {
  file=$1 words=$2; shift 2
  tried=$((tried + 1))
  code=0
  "$talkdown" "$@" >in/out.txt 2>in/err.txt </dev/null || code=$?
  [ "$code" = 2 ] || fail "talkdown $*: exit $code, not 2"
  [ ! -s in/out.txt ] || fail "talkdown $*: wrote to standard output: $(head -c 200 in/out.txt)"
  [ "$(wc -l <in/err.txt)" = 1 ] || fail "talkdown $*: $(wc -l <in/err.txt) lines, not one: $(head -c 600 in/err.txt)"
  grep -qF -- "$file" in/err.txt || fail "talkdown $*: does not name $file: $(cat in/err.txt)"
  grep -qE -- "$words" in/err.txt || fail "talkdown $*: does not say \"$words\": $(cat in/err.txt)"
  [ "$(ls)" = in ] || fail "talkdown $*: left behind: $(ls)"
}

bad_hill() { # FILE WORDS: every command that reads a profile
  refused "$1" "$2" plan "in/$1" --rig "$rig"
  refused "$1" "$2" rehearse "in/$1" --rig "$rig" --out out
  refused "$1" "$2" replay "$track" --hills "in/$1" --rig "$rig" --out out
}
bad_rig() {
  refused "$1" "$2" plan "$hill" --rig "in/$1"
  refused "$1" "$2" rehearse "$hill" --rig "in/$1" --out out
  refused "$1" "$2" replay "$track" --hills "$hill" --rig "in/$1" --out out
}
bad_track() {
  refused "$1" "$2" survey "in/$1" --out out.geojson
  refused "$1" "$2" replay "in/$1" --hills "$hill" --rig "$rig" --out out
}
change() { # FROM-FILE TO-FILE SED-SCRIPT: a change that does change something
  sed "$3" "$1" >"in/$2"
  ! cmp -s "$1" "in/$2" || fail "the change for $2 changes nothing"
}
ten_megabytes() { dd if=/dev/zero bs=1000000 count=10 2>/dev/null | tr '\0' "$1"; }
feature() { # COORDINATES: a profile of one road
  printf '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"role":"road","id":"a","name":"A"},"geometry":{"type":"LineString","coordinates":[%s]}}]}\n' "$1"
}

# The good ones are good, or the rest would prove nothing.
"$talkdown" hills check "$hill" >/dev/null || fail "the profile that the cases start from is not good"
"$talkdown" plan "$hill" --rig "$rig" >/dev/null || fail "the rig that the cases start from is not good"
"$talkdown" survey "$track" --out good.geojson >/dev/null || fail "the track that the cases start from is not good"
rm good.geojson

: >in/empty.geojson
head -c 2000 "$hill" >in/truncated.geojson
feature '[-128.9,-47.1,900]' >in/one.geojson
feature '[-128.9,95,900],[-128.91,95,890]' >in/lat95.geojson
feature '[-128.9,-47.1,NaN],[-128.91,-47.1,890]' >in/nan.geojson
feature '[-128.9,-47.1,900],[-128.9,-47.1,900]' >in/twice.geojson
feature '[-128.9,-47.1],[-128.91,-47.1]' >in/flat.geojson
change "$hill" unit.geojson 's/\([0-9]\) mph/\1 lb/'
change "$hill" key.geojson 's/"speed":/"sped":/'
ten_megabytes '[' >in/long.geojson
bad_hill empty.geojson 'is empty; a hill profile is a GeoJSON'
bad_hill truncated.geojson ':[0-9]+: is not whole JSON at column'
bad_hill one.geojson 'the road has 1 vertices; 2 to 8192 are right'
bad_hill lat95.geojson 'vertex 1 lies off the globe; longitude .* comes first'
bad_hill nan.geojson ':1: is not whole JSON'
bad_hill twice.geojson 'vertex 2 repeats the one before it'
bad_hill flat.geojson 'vertex 1 has no elevation; the third number must be metres'
bad_hill unit.geojson ':[0-9]+: feature .* lb" does not end in a unit that fits here; write a speed'
bad_hill key.geojson ':[0-9]+: feature .* property "sped" does not belong here'
bad_hill long.geojson 'is larger than 8388608 bytes'
bad_hill none.geojson 'No such file'

: >in/empty.yaml
head -c 900 "$rig" >in/truncated.yaml
change "$rig" ratio.yaml '0,/ratio: *[0-9.]*/s//ratio: 0/'
change "$rig" nan.yaml '0,/ratio: *[0-9.]*/s//ratio: nan/'
change "$rig" key.yaml 's/^drag_area:/drag_aera:/'
change "$rig" unit.yaml 's/^drag_area: *[0-9.]* m2/drag_area: 6.2/'
ten_megabytes a >in/long.yaml
line=$(grep -n '^drag_area' "$rig" | cut -d: -f1)
ratio_line=$(grep -n 'ratio:' "$rig" | head -n 1 | cut -d: -f1)
[ -n "$line" ] && [ -n "$ratio_line" ] || fail "the rig has no drag_area or ratio"
bad_rig empty.yaml 'is empty; a rig begins with name:'
bad_rig truncated.yaml 'lacks the key|is not well-formed YAML'
bad_rig ratio.yaml ":[0-9]+: .*ratio.* 0.*(between|above)"
bad_rig nan.yaml ":[0-9]+: .*\"nan\" does not begin with a number"
bad_rig key.yaml "key.yaml:$line: unknown key \"drag_aera\"; known here: name, base, gearbox"
bad_rig unit.yaml "unit.yaml:$line: drag_area: \"6.2\" has no unit; write an area in m2 or ft2"
bad_rig long.yaml 'is larger than 262144 bytes'
bad_rig none.yaml 'No such file'

# Rigs that rest on others: the file that holds the bad value is named, and whose base it is.
based() { # FILE BASE [MORE]
  printf 'name: Unit\nbase: %s\n%s\n' "$2" "${3:-}" >"in/$1"
}
based on_ratio.yaml ratio.yaml
based on_none.yaml none.yaml
based on_itself.yaml on_itself.yaml
based on_root.yaml "$rig"
based on_above.yaml ../good.yaml
based on_folder.yaml deeper
based loop_a.yaml loop_b.yaml
based loop_b.yaml loop_a.yaml
sed 's/^drag_area: *[0-9.]* m2/drag_area: 6.2/' "$rig" >in/unit_base.yaml
based on_unit.yaml unit_base.yaml 'axle_ratio: 4'
mkdir in/deeper
bad_rig on_ratio.yaml 'in/ratio.yaml:[0-9]+: .*ratio.* 0.*\(a base of in/on_ratio.yaml\)'
bad_rig on_none.yaml ':2: base: "none.yaml" cannot open it: No such file.*name a rig file in this'
bad_rig on_itself.yaml ':2: base: "on_itself.yaml" is this very file'
bad_rig on_root.yaml ':2: base: ".*" is an absolute path'
bad_rig on_above.yaml ':2: base: "../good.yaml" leads out of the folder'
bad_rig on_folder.yaml ':2: base: "deeper" is no regular file'
bad_rig loop_a.yaml 'in/loop_b.yaml:2: base: "loop_a.yaml" leads back .*\(a base of in/loop_a.yaml\)'
bad_rig on_unit.yaml "in/unit_base.yaml:$line: drag_area: \"6.2\" has no unit"

: >in/empty.gpx
head -c 700 "$track" >in/truncated.gpx
change "$track" nan.gpx '0,/lat="[^"]*"/s//lat="nan"/'
change "$track" lat95.gpx 's/lat="[^"]*"/lat="95"/'
ten_megabytes '{' >in/long.json
bad_track empty.gpx 'is empty; a track is GPX, one gpsd TPV object a line, a line of GeoJSON'
bad_track truncated.gpx ':[0-9]+: is not whole GPX'
bad_track nan.gpx ':[0-9]+: lat is "nan"; degrees'
bad_track lat95.gpx 'no usable position \(40 refused\)'
bad_track long.json ':1: is longer than 65536 bytes'
bad_track none.gpx 'No such file'

printf 'hills: h\nvolum: 80%%\n' >in/settings.yaml
refused settings.yaml 'settings.yaml:2: unknown key "volum"' say Ready --settings in/settings.yaml

# What is there already stays, and one recording is one pass.
cp "$track" in/keep.geojson
refused keep.geojson 'is there already and is left alone' survey "$track" --out in/keep.geojson
cmp -s "$track" in/keep.geojson || fail "survey overwrote a file without --force"
refused '' 'is the same recording as .*; name each pass once' survey "$track" "$track" --out o.geojson
refused '' 'no --out' hills pack in
refused 'in' 'is no library' hills verify in

# hills check finds all that is wrong, one line each, and answers no.
code=0
rm in/keep.geojson
"$talkdown" hills check in >in/found.txt 2>&1 || code=$?
[ "$code" = 1 ] || fail "hills check of bad profiles: exit $code, not 1"
errors=$(ls in/*.geojson | wc -l)
grep -qE "^$errors profiles, $errors errors" in/found.txt || fail "hills check: $(tail -n 1 in/found.txt)"

echo "$tried refusals tried, $bad not as they should be"
[ "$bad" = 0 ]
