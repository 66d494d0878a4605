#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# daemon_faults.sh SHARED: the real daemon while its surroundings fail: settings that are wrong, no
# gpsd, no sound, the voice killed in mid-word, gpsd killed, a full disk, the daemon itself killed.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"

# refused WORDS: the daemon ends with 2 and one line that holds the words, before it starts anything
refused() {
  code=0
  "$TALKDOWND" --settings settings.yaml 2>refused.log || code=$?
  [ "$code" = 2 ] || fail "wrong settings ended with $code, not 2: $1"
  [ "$(wc -l < refused.log)" = 1 ] || { cat refused.log >&2; fail "not one line: $1"; }
  grep -q -- "$1" refused.log || { cat refused.log >&2; fail "does not say $1"; }
  [ ! -e control ] || fail "a control socket was left behind: $1"
}
hills=$SOURCE/profiles/hills rig=$SOURCE/profiles/rigs/box-truck.yaml
write_settings none "$rig"; refused none
write_settings "$hills" none.yaml; refused none.yaml
write_settings "$hills" "$rig"; echo 'colour: red' >> settings.yaml; refused 'settings.yaml:11.*colour'
write_settings "$hills" "$rig"; echo 'gpsd_host: [' >> settings.yaml; refused settings.yaml
write_settings "$hills" "$rig"; sed -i 's/^gpsd_host:.*/gpsd_host: truck.example/' settings.yaml
refused localhost
write_settings "$hills" "$rig"; echo 'language: xx' >> settings.yaml; refused xx.yaml
echo text > control
write_settings "$hills" "$rig"
"$TALKDOWND" --settings settings.yaml 2>refused.log && fail "took a file for its socket"
grep -q 'no socket' refused.log || fail "does not say that the control path is no socket"
rm control
"$TALKDOWND" --settings settings.yaml --check || fail "good settings do not pass --check"
ok "wrong settings are refused in one line"

# Nothing is there: no gpsd, no sound server. It starts, and says so.
sh "$TD_SOUND_SERVER" stop "$TD_SOUND_DIR"
write_settings "$hills" "$rig"
start_daemon
on_board=$(find "$hills" -name "*.geojson" | wc -l)
await_log "ready, $on_board hills on board" 20
await_status '"state":"no gpsd"' 20
await_status '"sound":{"up":false' 20
await_log 'ready lost' 20
ok "starts without gpsd and without sound"

# Sound comes: what could not be heard is said then. Killed in mid-word, the voice comes back and
# the prompt is said again.
sh "$TD_SOUND_SERVER" start "$TD_SOUND_DIR"
await_status '"sound":{"up":true' 60
await_log 'ready started' 30
voice=$(tell status | sed -n 's/.*"voice_pid":\([0-9]*\).*/\1/p')
[ -n "$voice" ] || fail "no voice process"
lost_before=$(grep -c 'ready lost' daemon.log)
grep -q 'ready spoken' daemon.log && fail "too late to kill it in mid-word"
kill -KILL "$voice"
"$AWAIT" 20 sh -c "[ \$(grep -c 'ready lost' daemon.log) -gt $lost_before ]" ||
  fail "the loss of the voice was not noticed"
await_log 'ready spoken' 30
[ "$(grep -c 'ready started' daemon.log)" -ge 2 ] || fail "it was not said again"
again=$(tell status | sed -n 's/.*"voice_pid":\([0-9]*\).*/\1/p')
[ "$again" != "$voice" ] || fail "the same voice process"
ok "the voice killed in mid-word comes back and says it again"

# gpsd comes, is killed, comes back.
awk 'BEGIN { for (s = 0; s < 240; s++) {
  time = sprintf("10%02d%02d.000", s / 60, s % 60)
  printf "$GPRMC,%s,A,4700.%03d,S,12800.000,W,10.0,180.0,010630,,\n", time, 3 * s
  printf "$GPGGA,%s,4700.%03d,S,12800.000,W,1,09,0.8,100.0,M,0.0,M,,\n", time, 3 * s
} }' > drive.nmea
start_gpsd
"$FEEDER" drive.nmea "$nmea_port" 0 0 > feeder.log &
feeder_pid=$!
await_status '"gps":{"state":"fixes"' 40
kill -KILL "$gpsd_pid"; wait "$gpsd_pid" 2>/dev/null || true
await_status '"gps":{"state":"no gpsd"' 20
start_gpsd
await_status '"gps":{"state":"fixes"' 40
ok "gpsd killed and started again is found again"
end_one "$feeder_pid"; feeder_pid=
await_status '"gps":{"state":"silent"' 40
ok "a receiver that goes mute is noticed"
stop_daemon
drive=$(ls drive-*.db)
"$TALKDOWN" replay --exact "$drive" || fail "the replay of the faulty drive differs"
ok "its log replays exactly"

# A disk that is full from the first second: told once, coaching goes on.
rm -f drive-*.db daemon.log
mkdir full
sed -i 's/^logs:.*/logs: full/' settings.yaml
# (The thread sanitizer's start writes half a megabyte to TMPDIR where it can, and falls over the
# limit.)
( ulimit -f 64; TMPDIR=/none exec "$TALKDOWND" --settings settings.yaml 2>daemon.log ) &
daemon_pid=$!
await_log 'the drive is not being logged' 30
await_status '"log":{"state":"failing"' 20
tell road wet || fail "does not listen on a full disk"
await_log 'road_set spoken' 60
[ "$(grep -c 'the drive is not being logged' daemon.log)" = 1 ] || fail "told more than once"
stop_daemon
ok "a full disk stops nothing and is told once"

# Killed itself: the next one takes the socket over; what was logged is there.
rm -rf full; mkdir full
: > daemon.log
start_daemon
await_status '"state":"writing"' 20
await_log 'ready spoken' 60
kill -KILL "$daemon_pid"; wait "$daemon_pid" 2>/dev/null || true
"$TALKDOWN" replay --exact full/drive-*.db || fail "the log of a killed daemon differs"
start_daemon
await_status '"up_s"' 20
stop_daemon
[ ! -e control ] || fail "the control socket was left behind"
ok "a killed daemon's log and socket are taken up"
