#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# places.sh TALKDOWN SOURCE_DIR: a fleet's office puts places on a hill, moves and checks them, one by
# one and by tables. Every refusal is one line that says what is wrong and what would be right (they
# are printed, to be read), ends with 2, and leaves the profile byte for byte as it was.
set -eu
talkdown=$1 source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
cd "$work"
bad=0 refusals=0
fail() { echo "places.sh: $*"; bad=$((bad + 1)); }
has() { grep -qF -- "$2" "$1" || fail "$3: not \"$2\": $(head -c 600 "$1")"; }

# done_ EXIT ARGUMENTS...: runs "places ARGUMENTS" into out.txt
done_() {
  want=$1; shift
  code=0
  "$talkdown" places "$@" > out.txt 2> err.txt || code=$?
  [ $code = "$want" ] || fail "places $*: exit $code, not $want: $(cat out.txt err.txt)"
  [ ! -s err.txt ] || fail "places $*: $(cat err.txt)"
}

# refused WORDS ARGUMENTS...
refused() {
  words=$1; shift
  refusals=$((refusals + 1))
  cp h.geojson was.geojson
  ls > was.txt
  code=0
  "$talkdown" places "$@" > out.txt 2> err.txt || code=$?
  cat err.txt
  [ $code = 2 ] || fail "places $*: exit $code, not 2"
  [ ! -s out.txt ] || fail "places $*: wrote to standard output: $(cat out.txt)"
  [ "$(wc -l < err.txt)" = 1 ] || fail "places $*: not one line: $(cat err.txt)"
  has err.txt "$words" "places $*"
  cmp -s h.geojson was.geojson || fail "places $*: the profile was changed"
  ls > is.txt; cmp -s is.txt was.txt || fail "places $*: left behind: $(cat is.txt)"
}
touch out.txt err.txt was.txt is.txt was.geojson t.csv

# table LINES...: t.csv
table() { printf '%s\n' "$@" > t.csv; }
# The name and the line of a table come first, as a compiler has them.
bad_line() { refused "talkdown: t.csv:$1: $2" import h.geojson t.csv; }

hill=$source/profiles/hills/ombral-pass.geojson
sed 's/"id": "ombral-pass"/"id": "ombral-pass", "revision": 5, "x_ours": [1.50, null]/; s/"type": "FeatureCollection"/"type": "FeatureCollection", "keeper": {"n": 1e2}/' "$hill" > h.geojson
cp h.geojson first.geojson

# --- One by one ---
done_ 1 posts h.geojson
has out.txt 'no mileposts on file' posts
done_ 0 posts h.geojson "mile 30 at -48.9073238,-123.8386353; mile 34 at 8037 m"
has out.txt 'mile 30 at 1600 m (0.994 mi)' "posts by coordinate"
grep -q warning out.txt && fail "posts that are right: $(cat out.txt)"
done_ 0 posts h.geojson "mile 30 at 1600 m; mile 34 at 9600 m" --dry-run
has out.txt 'warning: the road from the post there to the next is 24 % longer than they say' posts
# By hand: 34 - 30 miles over 8037 - 1600 m, so mile 32.5 is at 1600 + 2.5 / 4 * 6437 = 5623.1 m.
done_ 0 add h.geojson escape-lane --at "mile 32.5" --side right --length "820 ft" --id lane-1 \
  --name 'The "upper" lane' --material 'pea gravel, deep'
has out.txt 'added the escape-lane "lane-1" at 3.494 mi (5623 m), mile 32.50' add
has h.geojson '"id": "lane-1", "name": "The \"upper\" lane", "side": "right", "length": "820 ft", "material": "pea gravel, deep"}' add
has h.geojson '"revision": 7' "add: revision"
done_ 0 move h.geojson lane-1 --along "1.2 mi past crest" --status closed --checked 2031-06-01
has out.txt 'moved the escape-lane "lane-1"' move
has out.txt '1.20 mi past the crest' move
done_ 0 change h.geojson 'The "upper" lane' --name "Upper" --material ""
has out.txt 'changed the escape-lane "lane-1"' change
done_ 0 change h.geojson Upper --name "Upper"
has out.txt 'it is so already; nothing was written' "change to the same"
has h.geojson '"revision": 9' "changes: revision"
# Left of the line, and it says right: written, and told; hills check says the same.
done_ 1 add h.geojson turn-out --coordinate -48.8985,-123.795 --side right --id pull-off
has out.txt 'error: it says right, but its point lies 50 m to the left' "the wrong side"
code=0; "$talkdown" hills check h.geojson > out.txt || code=$?
[ $code = 1 ] && grep -q 'turn-out at .*: it says right, but its point lies' out.txt ||
  fail "hills check: $(cat out.txt)"
done_ 1 check h.geojson
has out.txt '13 places, 1 errors, 0 warnings' check
has out.txt '-48.8985000,-123.7950000' check
done_ 1 check h.geojson --json
[ "$(wc -l < out.txt)" = 13 ] || fail "check --json: not 13 lines"
grep '"id": "pull-off"' out.txt | grep -q '"findings": \[{"severity": "error", "rule": "side", "what": ".*", "cure": "left or right' ||
  fail "check --json: $(grep pull-off out.txt)"
done_ 0 remove h.geojson pull-off
has out.txt 'removed the turn-out "pull-off"' remove
done_ 0 remove h.geojson lane-1 --out other.geojson
done_ 0 list other.geojson
[ "$(wc -l < out.txt)" = 11 ] || fail "list: $(cat out.txt)"
done_ 0 list h.geojson --json
[ "$(wc -l < out.txt)" = 12 ] || fail "list --json: $(cat out.txt)"
rm other.geojson
done_ 0 remove h.geojson lane-1 --dry-run
has out.txt 'a trial, nothing was written' --dry-run
done_ 0 remove h.geojson lane-1
done_ 0 posts h.geojson ""
# All that was there before is there now, but for the revision: eight changes.
sed 's/"revision": 13/"revision": 5/' h.geojson | cmp -s - first.geojson ||
  fail "not as it was: $(diff h.geojson first.geojson | head -5)"

# --- By tables ---
done_ 0 list h.geojson --csv
cp out.txt all.csv
cp h.geojson was.geojson
done_ 0 import h.geojson all.csv
cmp -s h.geojson was.geojson || fail "its own table changed it"
has out.txt 'all 11 places are so already; nothing was written' "its own table"
printf '\357\273\277role,id,milepost,along,latitude,longitude,name,side,speed,over,x_note\r\n' > t.csv
printf 'truck-speed,sign-a,,2.2 mi,,,,,15 mph,"78,000 lb",ours\r\n' >> t.csv
printf ',,,,,,,,,,\r\n' >> t.csv
printf 'turn-out,lot,,,-48.8934,-123.7566,"North, lot",right,,,\r\n' >> t.csv
done_ 0 import h.geojson t.csv --dry-run
has out.txt '2 added, 0 moved, 0 changed, 0 removed, 0 as they were; a trial' "a trial"
done_ 0 import h.geojson t.csv
has out.txt 't.csv:2: added the truck-speed "sign-a" at 2.200 mi' "a table"
has out.txt 't.csv:4: added the turn-out "lot" at' "a table"
has h.geojson '"revision": 14' "a table: one revision"
done_ 0 import h.geojson t.csv
has out.txt 'all 2 places are so already' "the same table again"
table 'id,along,speed,action' 'sign-a,2.3 mi,10 mph,put' 'lot,,,remove'
done_ 0 import h.geojson t.csv
has out.txt 't.csv:2: moved the truck-speed "sign-a" at 2.300 mi' "moved by id"
has out.txt 't.csv:3: removed the turn-out "lot"' "removed by id"
has out.txt '0 added, 1 moved, 0 changed, 1 removed, 0 as they were' "moved by id"
has h.geojson '"speed": "10 mph", "over": "78,000 lb"' "a column that is not there changes nothing"
# By name, and by standing where one stands.
table 'role,name,length' 'brake-check,Ombral summit,160 m'
done_ 0 import h.geojson t.csv
has out.txt 't.csv:2: changed the brake-check "Ombral summit"' "by name"
sed 's/^truck-speed,,,,\(.*\),25 mph,/truck-speed,,,,\1,30 mph,/; s/,160 m,/,150 m,/' all.csv > t.csv
bad_line 5 'is it the truck-speed at 2.162 mi (3480 m), changed, or another beside it?'
done_ 0 change h.geojson 4 --id sign-b
sed 's/^truck-speed,,,,\(.*\),25 mph,/truck-speed,sign-b,,,\1,30 mph,/' all.csv > t.csv
done_ 0 import h.geojson t.csv
has out.txt '0 added, 0 moved, 2 changed, 0 removed, 9 as they were' "by where they stand"
# A whole table onto a bare road makes the same table.
cp h.geojson full.geojson
done_ 0 list h.geojson --csv; cp out.txt full.csv
sed 's/^role,/action,role,/; 1!s/^/remove,/' full.csv > t.csv
done_ 0 import h.geojson t.csv
has out.txt '0 added, 0 moved, 0 changed, 12 removed' "all removed"
done_ 0 list h.geojson --csv
[ "$(wc -l < out.txt)" = 1 ] || fail "an empty table: $(cat out.txt)"
done_ 0 import h.geojson full.csv
has out.txt '12 added' "all added"
done_ 0 list h.geojson --csv
cmp -s out.txt full.csv || fail "another table: $(diff out.txt full.csv | head -4)"
# The road and what we do not know are as they were.
sed 's/"revision": [0-9]*/"revision": 5/' h.geojson | head -c 20000 > a.txt
head -c 20000 first.geojson | cmp -s - a.txt || fail "the road was changed"
has h.geojson '"keeper": {"n": 1e2}' "a foreign member"
has h.geojson '"x_ours": [1.50, null]' "a property of theirs"

# --- Refusals, read aloud ---
cp full.geojson h.geojson
"$talkdown" hills pack h.geojson --out l.hills > out.txt
refused 'nothing it does; places list, check, add' show h.geojson
refused 'places add: a profile and a role are needed' add h.geojson
refused 'places move: a profile and a place are needed' move h.geojson
refused 'places import: a profile and a table (.csv) are needed' import h.geojson
refused 'what a place has is given with add, move or change' list h.geojson --speed=1
refused '--csv does not belong here' check h.geojson --csv
refused '--at does not belong here' remove h.geojson sign-a --at "mile 3"
refused '--force goes with --out' remove h.geojson sign-a --force
refused 'two forms; give one' list h.geojson --csv --json
refused 'what a place has is given with add, move or change' remove h.geojson sign-a --side left
refused 'unknown option "--sped"' add h.geojson stop --along "1 mi" --sped "20 mph"
refused 'no.geojson: cannot open it' list no.geojson
refused 'is in a library, which is not changed' add l.hills stop --along "1 mi"
refused 'was.geojson: is there already' add h.geojson stop --along "1 mi" --out was.geojson
refused 'unknown role "stopp"; known: ' add h.geojson stopp --along "1 mi"
refused 'role "road" is no kind of place' add h.geojson road --along "1 mi"
refused 'give --at, --along or --coordinate' add h.geojson stop
refused '--at and --along both say where it is' add h.geojson stop --at "mile 1" --along "1 mi"
refused '--at: the road does not say where its mileposts stand' add h.geojson stop --at "mile 1"
refused '--along: "1" has no unit' add h.geojson stop --along 1
refused '--along: "9 mi" is off the road, which is 7.' add h.geojson stop --along "9 mi"
refused 'before crest, past crest, before foot or past foot' add h.geojson stop --along "1 mi past top"
refused '--coordinate: is no coordinate; write latitude' add h.geojson stop --coordinate "-48.9"
refused 'from the road (nearest at ' add h.geojson stop --coordinate -48.9090,-123.81
refused 'over 100 km from the road; latitude comes first' add h.geojson stop --coordinate 48.9,-123.81
refused 'truck-speed: lacks "speed"' add h.geojson truck-speed --along "1 mi"
refused 'truck-speed: speed: "20" has no unit; write a speed in mph' add h.geojson truck-speed --along "1 mi" --speed 20
refused 'property "side" does not belong here; a stop may have: ' add h.geojson stop --along "1 mi" --side left
refused 'side must be left or right' add h.geojson turn-out --along "1 mi" --side up
refused 'the id "sign-a" is that of the truck-speed' change h.geojson sign-b --id sign-a
refused 'the id "sign-a" is that of the truck-speed "sign-a" at 2.300 mi' add h.geojson stop --along "1 mi" --id sign-a
refused 'has a character other than letters, digits and hyphens' add h.geojson stop --along "1 mi" --id "a b"
refused 'is called "sign-z"; give an id, a name, a role' remove h.geojson sign-z
refused 'several places are called "escape-lane"; give the number (' remove h.geojson escape-lane
refused 'is called "13"' remove h.geojson 13
refused 'nothing to change; give a property' change h.geojson sign-a
refused 'lacks "speed"' change h.geojson sign-a --speed ""
refused 'say holds bytes that are no UTF-8' change h.geojson sign-a --say "$(printf 'a\377')"
refused 'does not say where a post stands' posts h.geojson "mile 3"
refused 'two posts at two places are needed' posts h.geojson "mile 3 at 1 mi"
refused '"mile 4": distance: "99 mi" is off the road' posts h.geojson "mile 3 at 1 mi; mile 4 at 99 mi"
refused 'are of one kind' posts h.geojson "mile 3 at 1 mi; km 4 at 2 mi"
refused 'no.csv: cannot open it' import h.geojson no.csv
: > t.csv; refused 't.csv: is empty' import h.geojson t.csv
table 'role;along' 'stop;1 mi'; bad_line 1 'is parted by semicolons or tabs; save it with commas'
table 'role,sped' 'stop,1'; bad_line 1 'column "sped" is unknown; known are role, action, milepost, along'
table 'role,along,along' 'stop,1 mi,'; bad_line 1 'column "along" is there twice'
table 'role,along' 'stop,1 mi,'; bad_line 2 'has 3 cells, but the head has 2'
table 'role,along' 'stop,"1 mi'; bad_line 2 'a quote is opened and not closed'
table 'role,along' 'stop,1 mi' 'stopp,1 mi'; bad_line 3 'unknown role "stopp"; known: '
table 'role,along' 'stop,'; bad_line 2 'a new stop, and no word where it is; fill in milepost, along, or latitude'
table 'role,along' ',1 mi'; bad_line 2 'no place on file is meant by it, and for a new one the role is missing'
table 'role,along,speed' 'truck-speed,1 mi,20'; bad_line 2 'truck-speed: speed: "20" has no unit'
table 'role,along,side' 'stop,1 mi,left'; bad_line 2 'stop: property "side" does not belong here'
table 'role,milepost' 'stop,mile 3'; bad_line 2 'milepost: the road does not say where its mileposts stand'
table 'role,along,latitude,longitude' 'stop,3 mi,-48.9084723,-123.8507659'
bad_line 2 'latitude and longitude: does not agree with the distance beside it'
table 'role,latitude,longitude' 'stop,"-48,9",-123.85'; bad_line 2 'latitude and longitude: is no coordinate'
table 'id,action' 'sign-a,delete'; bad_line 2 'action is "delete"; put (or nothing) or remove is right'
table 'id,action' 'sign-z,remove'; bad_line 2 'no place on file is meant by it, so none can be removed'
table 'id,along' 'sign-a,2 mi' 'sign-a,3 mi'; bad_line 3 'means the truck-speed "sign-a" at'
table 'role,id,along' 'stop,z,2 mi' 'signal,z,3 mi'; bad_line 3 'has the id "z" of line 2'
table 'role,id' 'stop,sign-a'; bad_line 2 '"sign-a" is a truck-speed on file, not a stop'
{ echo 'role,along'; for i in $(seq 200 320); do echo "note,$i ft"; done; } > t.csv
refused 't.csv: would make 133 places of one hill; 128 are the most' import h.geojson t.csv
# Every bad line is told in one go, and a good one among them does nothing.
table 'role,along,speed' 'truck-speed,1 mi,20' 'stop,2 mi,' 'stop,99 mi,' ',,x'
cp h.geojson was.geojson
code=0; "$talkdown" places import h.geojson t.csv > out.txt 2> err.txt || code=$?
cat err.txt
[ $code = 2 ] && [ ! -s out.txt ] && [ "$(cut -d: -f3 err.txt | tr -d '\n')" = 245 ] ||
  fail "not lines 2, 4 and 5: $(cat err.txt)"
cmp -s h.geojson was.geojson || fail "a table with bad lines changed the profile"
# Nothing is half-written: where the new file cannot be, the old one stays.
mkdir fixed && cp h.geojson fixed/ && chmod a-w fixed
if ! touch fixed/x 2> err.txt; then
  code=0; "$talkdown" places remove fixed/h.geojson sign-a > out.txt 2> err.txt || code=$?
  [ $code = 2 ] && cmp -s fixed/h.geojson h.geojson || fail "a folder that is not ours: $(cat err.txt)"
fi
chmod u+w fixed
echo "$refusals refusals, $bad not as they should be"
[ "$refusals" -ge 60 ] && [ "$bad" = 0 ]
