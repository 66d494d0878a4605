#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# button.sh: the real daemon with a button (a FIFO of bare input events stands for the device): the
# spoken menu at a standstill sets load, road and engine brake, one press a step; rolling, the same
# presses say again and quiet.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"

mkfifo events
write_settings "$SOURCE/profiles/hills" "$SOURCE/profiles/rigs/five-axle.yaml"
echo "button: events" >> settings.yaml
start_daemon
await_status '"hills":5,' 20
exec 9>events

# struct input_event of a 64-bit Linux: two times of 8 bytes, type, code, value; key 164, then SYN.
key() { # key VALUE
  printf '\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\001\0\244\0\00'"$1"'\0\0\0' >&9
  printf '\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0' >&9
}
presses() { grep -c -- "button: $1 press" daemon.log || true; }
# A long press is held until the daemon tells of it.
long() {
  before=$(presses long)
  key 1
  cat > held.sh <<EOF
[ "\$(grep -c -- 'button: long press' daemon.log)" -gt "$before" ]
EOF
  "$AWAIT" 10 sh held.sh || fail "a long press was not seen"
  key 0
}
short() { key 1; key 0; }

await_log 'load_not_confirmed spoken' 30
long
await_log 'Load full?' 10
short
await_log 'Load bobtail?' 10
long
await_status '"load":"bobtail"' 10
await_status '"load_confirmed":true' 10
await_log 'Dry road?' 20
short
await_log 'Wet road?' 10
long
await_status '"road":"wet"' 10
await_log 'Engine brake high?' 20
short
await_log 'No engine brake?' 10
long
await_status '"engine_brake":"off"' 10
await_log 'Settings closed.' 10
ok "the menu set load, road and engine brake"

# Rolling: the same presses are again and quiet, and nothing is set.
start_gpsd
await_status '"connections":1' 30
awk 'BEGIN { for (s = 0; s < 40; s++) {
    y = s * 0.0107; time = sprintf("10%02d%02d.000", s / 60, s % 60)
    printf "$GPRMC,%s,A,40%08.5f,S,030%08.5f,W,39.0,0.0,010630,,\n", time, 30 - y, 0
    printf "$GPGGA,%s,40%08.5f,S,030%08.5f,W,1,09,0.8,20.0,M,0.0,M,,\n", time, 30 - y, 0 } }' \
  > roll.nmea
"$FEEDER" roll.nmea "$nmea_port" 0 0 > feeder.log &
feeder_pid=$!
await_status '"speed_mph":4' 30
long
short
await_log 'Nothing to repeat.\|Set for' 20
await_status '"road":"wet"' 10
await_log 'told\|button: short press' 10
[ "$(grep -c 'Load .*?' daemon.log)" = 2 ] || fail "the menu opened while the truck was rolling"
stop_daemon
ok "rolling, a long press quiets and a short one says again"
