#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# live_hill.sh SHARED FROM_S FOR_S LEAST: the main job on real input, in real time. A profile is
# surveyed from the recorded climb of a mountain road; its recorded descent, as NMEA, goes to a real
# gpsd; the daemon follows and speaks; a real sound server's output is recorded, and a recogniser
# hears in it what the drive log says was said. Then the log is replayed and must say the same.
# FROM_S and FOR_S choose the part of the descent (0 0: all of it), LEAST is how many prompts about
# the hill it must hold.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
shared=$1 from_s=$2 for_s=$3 least=$4
. "$SOURCE/tests/support/live_rig.sh"
tracks=$shared/data/hairpins
[ -r "$tracks/descent.gpx" ] || skip "$tracks is not there"

"$TALKDOWN" survey "$tracks/climb.gpx" --reverse --out hill.geojson --id live-hill || fail "survey"
# The recording has no satellites and no precision, without which gpsd believes no sentence: those of
# an ordinary receiver are put in (invented).
sed 's|</time>|</time><fix>3d</fix><sat>9</sat><hdop>0.6</hdop><pdop>1.2</pdop><vdop>1.0</vdop>|' \
  "$tracks/descent.gpx" > drive.gpx
gpsbabel -t -i gpx -f drive.gpx -x track,course,speed -o nmea -F drive.nmea
# The riders were quicker than any heavy truck; the lightest rig of the demo set comes nearest.
write_settings hill.geojson "$SOURCE/profiles/rigs/box-truck.yaml"

start_recording
start_daemon
await_status '"hills":1,' 20
await_status '"sound":{"up":true' 20
tell load full || fail "tell load"
await_status '"state":"no gpsd"' 20
start_gpsd
await_status '"connections":1' 30
"$FEEDER" drive.nmea "$nmea_port" "$from_s" "$for_s" &
feeder_pid=$!
await_status '"gps":{"state":"fixes"' 20
await_status '"hill":"live-hill"' 120
wait "$feeder_pid" || fail "the drive could not be fed"
feeder_pid=
tell status > status.json || fail "tell status"
stop_daemon
stop_recording

drive=$(ls drive-*.db) || fail "no drive log"
write_prompts "$drive"
cat prompts.txt
hill_prompts=$(grep -c ' spoken ' prompts.txt || true)
about_hill=$(grep -cE ' spoken +(hill_ahead|gear|slow_for_grade|engine_brake|ceiling|over_speed) ' \
  prompts.txt || true)
[ "$about_hill" -ge "$least" ] || fail "$about_hill prompts about the hill, not $least"
grep -q ' spoken *hill_ahead ' prompts.txt || fail "the hill was not announced"
grep -q '"lost":0' status.json || fail "records of the drive were lost"
[ "$(sqlite3 -readonly "$drive" 'SELECT count(*) FROM gap')" = 0 ] || fail "the drive log has gaps"

"$TALKDOWN" replay --exact "$drive" || fail "the replay of the live drive differs"
if [ -n "${OTHER_TALKDOWN:-}" ]; then
  "$OTHER_TALKDOWN" replay --exact "$drive" || fail "another compiler's replay differs"
fi
[ -z "${KEEP:-}" ] || cp heard.wav prompts.txt daemon.log "$drive" "$KEEP"
# All else has held by now; without a recogniser's model (77) the sound is not listened to.
[ -n "${RECOGNISE:-}" ] || skip "no recogniser to listen to $hill_prompts prompts"
code=0
"$RECOGNISE" heard.wav --expect prompts.txt || code=$?
[ "$code" != 77 ] || skip "no recogniser's model to listen to $hill_prompts prompts"
[ "$code" = 0 ] || fail "the recording does not hold what was said"
