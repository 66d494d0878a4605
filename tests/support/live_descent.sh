#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# To be sourced after live_rig.sh, with FROM_M and SPEED_MPS set, by tests in which a truck goes down
# the demo hill while its library is replaced: the drive, and whether the truck still has its hill
# and its place.
hill=$SOURCE/profiles/hills/ombral-pass.geojson

# A drive of 200 s down the profile's own vertices (12 m apart), from FROM_M at SPEED_MPS.
grep -o '\[-[0-9.]*, -[0-9.]*, [0-9.]*\]' "$hill" | tr -d '[],' |
  awk -v from="$((FROM_M / 12))" -v speed="$SPEED_MPS" '
  function deg(value, width) { value = value < 0 ? -value : value
    return sprintf("%0" width "d%08.5f", int(value), (value - int(value)) * 60) }
  { lon[NR - 1] = $1; lat[NR - 1] = $2 }
  END { for (s = 0; s < 200; s++) {
    at = from + speed / 12 * s; i = int(at); f = at - i
    y = lat[i] + f * (lat[i + 1] - lat[i]); x = lon[i] + f * (lon[i + 1] - lon[i])
    north = lat[i + 1] - lat[i]; east = (lon[i + 1] - lon[i]) * cos(y * 0.017453293)
    course = atan2(east, north) * 57.29578; if (course < 0) course += 360
    time = sprintf("10%02d%02d.000", s / 60, s % 60)
    printf "$GPRMC,%s,A,%s,S,%s,W,%.1f,%.1f,010630,,\n", time, deg(y, 2), deg(x, 3),
      speed * 1.9438, course
    printf "$GPGGA,%s,%s,S,%s,W,1,09,0.8,900.0,M,0.0,M,,\n", time, deg(y, 2), deg(x, 3)
  } }' > drive.nmea
[ "$(wc -l < drive.nmea)" = 400 ] || fail "no drive could be made of $hill"

set_out() { # the daemon on fleet.hills with one hill, gpsd, and the truck on its way
  start_daemon
  await_status '"hills":1,' 20
  start_gpsd
  await_status '"connections":1' 30
  "$FEEDER" drive.nmea "$nmea_port" 0 0 > feeder.log &
  feeder_pid=$!
  await_status '"hill":"ombral-pass"' 90
}

along() { tell status | sed -n 's/.*"along_m":\([0-9]*\).*/\1/p'; }
still_there() { # still_there HILLS: the same hill, further along, and so many hills on board
  await_status "\"hills\":$1," 20
  before=$(along)
  [ -n "$before" ] || fail "lost its place: $(tell status)"
  "$AWAIT" 20 sh -c "[ \"\$(\"$TALKDOWN\" tell --settings settings.yaml status |
    sed -n 's/.*\"along_m\":\\([0-9]*\\).*/\\1/p')\" -gt $before ]" || fail "stands still at $before m"
  tell status | grep -q '"hill":"ombral-pass"' || fail "another hill: $(tell status)"
}

refused() { # refused WORDS: asks for a reload that must be refused, and stays
  tell reload > refused.log 2>&1 && fail "took what it must refuse: $1"
  grep -q -- "$1" refused.log || fail "does not say \"$1\": $(cat refused.log)"
  tell status | grep -q -- "\"refused\":\"[^\"]*$1" || fail "the status does not say \"$1\""
  still_there "$hills"
}

one_hill_all_the_way() { # ends the drive; its log has one hill from first to last, and replays
  end_one "$feeder_pid"; feeder_pid=
  stop_daemon
  drive=$(ls drive-*.db) || fail "no drive log"
  kinds=$(sqlite3 -readonly "$drive" "SELECT kind, count(*) FROM event GROUP BY kind" | tr '\n' ' ')
  echo "$kinds"
  events() { sqlite3 -readonly "$drive" "SELECT count(*) FROM event WHERE kind = '$1'"; }
  [ "$(events hill-on)" = 1 ] || fail "recognised not once: $kinds"
  [ "$(events hill-off)" = 0 ] || fail "left the hill: $kinds"
  "$TALKDOWN" replay --exact "$drive" || fail "the replay of the drive differs"
}
