#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# library_reload.sh: the real daemon on a library, a truck on one of its hills. The library is
# replaced by a larger one, then by bad ones; the truck keeps its hill and its place all the while,
# and what is refused is told and said.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"
ok() { echo "ok: $*"; }
hill=$SOURCE/profiles/hills/ombral-pass.geojson

# A drive down the profile's own vertices (12 m apart), one and a half of them a second: 18 m/s.
grep -o '\[-[0-9.]*, -[0-9.]*, [0-9.]*\]' "$hill" | tr -d '[],' | awk '
  function deg(value, width) { value = value < 0 ? -value : value
    return sprintf("%0" width "d%08.5f", int(value), (value - int(value)) * 60) }
  { lon[NR - 1] = $1; lat[NR - 1] = $2 }
  END { for (s = 0; s < 200; s++) {
    at = 1.5 * s; i = int(at); f = at - i
    y = lat[i] + f * (lat[i + 1] - lat[i]); x = lon[i] + f * (lon[i + 1] - lon[i])
    north = lat[i + 1] - lat[i]; east = (lon[i + 1] - lon[i]) * cos(y * 0.017453293)
    course = atan2(east, north) * 57.29578; if (course < 0) course += 360
    time = sprintf("10%02d%02d.000", s / 60, s % 60)
    printf "$GPRMC,%s,A,%s,S,%s,W,35.0,%.1f,010630,,\n", time, deg(y, 2), deg(x, 3), course
    printf "$GPGGA,%s,%s,S,%s,W,1,09,0.8,900.0,M,0.0,M,,\n", time, deg(y, 2), deg(x, 3)
  } }' > drive.nmea
[ "$(wc -l < drive.nmea)" = 400 ] || fail "no drive could be made of $hill"

"$TALKDOWN" hills pack "$hill" --out fleet.hills || fail "pack"
write_settings fleet.hills "$SOURCE/profiles/rigs/five-axle.yaml"
start_daemon
await_status '"hills":1,' 20
start_gpsd
await_status '"connections":1' 30
"$FEEDER" drive.nmea "$nmea_port" 0 0 > feeder.log &
feeder_pid=$!
await_status '"hill":"ombral-pass"' 90
ok "on a hill of the library"

along() { tell status | sed -n 's/.*"along_m":\([0-9]*\).*/\1/p'; }
still_there() { # still_there HILLS: the same hill, further along, and so many hills on board
  await_status "\"hills\":$1," 20
  before=$(along)
  [ -n "$before" ] || fail "lost its place: $(tell status)"
  "$AWAIT" 20 sh -c "[ \"\$(\"$TALKDOWN\" tell --settings settings.yaml status |
    sed -n 's/.*\"along_m\":\\([0-9]*\\).*/\\1/p')\" -gt $before ]" || fail "stands still at $before m"
  tell status | grep -q '"hill":"ombral-pass"' || fail "another hill: $(tell status)"
}
still_there 1

"$TALKDOWN" hills pack "$SOURCE/profiles/hills" --out fleet.hills --force || fail "pack again"
hills=$(ls "$SOURCE"/profiles/hills/*.geojson | wc -l)
tell reload || fail "the larger library was refused"
still_there "$hills"
ok "a larger library under way"

refused() { # refused WORDS: asks for a reload that must be refused, and stays
  tell reload > refused.log 2>&1 && fail "took what it must refuse: $1"
  grep -q -- "$1" refused.log || fail "does not say \"$1\": $(cat refused.log)"
  still_there "$hills"
}
cp fleet.hills good.hills
head -c 20000 good.hills > cut.hills && mv cut.hills fleet.hills
refused 'cut short'
echo 'no library at all' > text.hills && mv text.hills fleet.hills
refused 'is no library'
cp good.hills newer.hills && sqlite3 newer.hills 'PRAGMA user_version=2' && mv newer.hills fleet.hills
refused 'newer than version 1'
ok "bad libraries are refused and the last good one stays"
await_log 'library_refused' 60
mv good.hills fleet.hills
tell reload || fail "the good library was refused"
still_there "$hills"
end_one "$feeder_pid"; feeder_pid=
stop_daemon

drive=$(ls drive-*.db) || fail "no drive log"
events() { sqlite3 -readonly "$drive" "SELECT count(*) FROM event WHERE kind = '$1'"; }
kinds=$(sqlite3 -readonly "$drive" "SELECT kind, count(*) FROM event GROUP BY kind" | tr '\n' ' ')
echo "$kinds"
[ "$(events hill-on)" = 1 ] || fail "recognised not once: $kinds"
[ "$(events hill-off)" = 0 ] || fail "left the hill: $kinds"
"$TALKDOWN" replay --exact "$drive" || fail "the replay of the drive differs"
ok "one hill from first to last, and its log replays exactly"
