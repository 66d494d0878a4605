#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# live_captures.sh SHARED: raw receiver captures (no fix, cold boot, damaged, 10 Hz) through a real
# gpsd into the daemon, with the demo hills on board. None of them is near a hill: none may be told,
# a receiver without a fix is "no fix", and the daemon outlives them all. The captures go in as fast
# as gpsd takes them, so that lines are lost, late and run into each other besides.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
shared=$1
. "$SOURCE/tests/support/live_rig.sh"
captures=$shared/data/captures
[ -r "$captures/bu303-nofix.log" ] || skip "$captures is not there"
command -v bash >/dev/null || skip "bash is not there"

# Blocks of 700 bytes, each a datagram.
feed() { bash -c 'dd if="$0" bs=700 status=none >"/dev/udp/127.0.0.1/$1"' "$1" "$nmea_port"; }

write_settings "$SOURCE/profiles/hills" "$SOURCE/profiles/rigs/box-truck.yaml"
start_daemon
await_status '"sound":{"up":true' 20
start_gpsd
await_status '"connections":1' 30
feed "$captures/bu303-nofix.log"
await_status '"state":"no fix"' 20
fed=0
for capture in "$captures"/*.log; do
  feed "$capture"
  tell status > status.json || fail "no status after $(basename "$capture")"
  ! grep -q '"state":"\(on hill\|coasting\|lost\)"' status.json ||
    fail "$(basename "$capture"): $(cat status.json)"
  fed=$((fed + 1))
done
await_status '"gps":{"state":"fixes"' 30
stop_daemon
drives=$(ls drive-*.db) || fail "no drive log, though some of them moved"
for drive in $drives; do
  places=$(sqlite3 -readonly "$drive" "SELECT count(*) FROM event WHERE kind = 'where'")
  told=$(sqlite3 -readonly "$drive" "SELECT count(*) FROM event WHERE kind = 'hill-on'")
  [ "$places" -gt 0 ] || fail "$drive: it never had a position"
  [ "$told" = 0 ] || fail "$drive: $told hills were told"
done
echo "$fed captures through gpsd: no hill told, the daemon ended as it should"
