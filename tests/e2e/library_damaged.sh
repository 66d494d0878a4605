#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# library_damaged.sh: the real daemon on a library in which one hill is not as it was packed. That is
# found before the truck comes near it, and told again when it does; both once, shown, and in the
# drive log, which replays.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"
FROM_M=0 SPEED_MPS=18
. "$SOURCE/tests/support/live_descent.sh"

"$TALKDOWN" hills pack "$SOURCE/profiles/hills" --out fleet.hills || fail "pack"
sqlite3 fleet.hills "UPDATE profile SET bytes = CAST(replace(CAST(bytes AS TEXT), '20 mph', '80 mph')
  AS BLOB) WHERE number = (SELECT number FROM hill WHERE id = 'ombral-pass')" || fail "alter"
write_settings fleet.hills "$SOURCE/profiles/rigs/five-axle.yaml"
start_daemon
await_status '"hills":[1-9]' 20
await_status '"verified":"damaged"' 20
await_log 'library_damaged spoken' 60
ok "a damaged library is found by itself, said and shown"
start_gpsd
await_status '"connections":1' 30
"$FEEDER" drive.nmea "$nmea_port" 0 0 > feeder.log &
feeder_pid=$!
await_log 'hill_damaged spoken' 60
tell status | grep -q '"refused":"[^"]*hill \\"ombral-pass\\" is not as it was packed' ||
  fail "the status does not name the hill: $(tell status)"
ok "a damaged hill near the truck is said and shown"
end_one "$feeder_pid"; feeder_pid=
stop_daemon
drive=$(ls drive-*.db) || fail "no drive log"
for prompt in library_damaged hill_damaged; do
  spoken=$(sqlite3 -readonly "$drive" \
    "SELECT count(*) FROM event WHERE kind = 'spoken' AND prompt = '$prompt'")
  [ "$spoken" = 1 ] || fail "$prompt was spoken $spoken times"
done
"$TALKDOWN" replay --exact "$drive" || fail "the replay of the drive differs"
ok "once, and its log replays exactly"
