#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What the live tests share; to be sourced. Runs below sound_server.sh, in TD_SOUND_DIR: a real gpsd
# fed with NMEA over UDP, the real daemon, and a recording of what the sound server played. Needs
# TALKDOWN, TALKDOWND, FEEDER, AWAIT (programs) and SOURCE (folder of the project).
set -eu
mkdir "$TD_SOUND_DIR/live"
cd "$TD_SOUND_DIR/live"
: "${TALKDOWN:?}" "${TALKDOWND:?}" "${FEEDER:?}" "${AWAIT:?}" "${SOURCE:?}"
gpsd_pid= daemon_pid= parec_pid= feeder_pid=

ok() { echo "ok: $*"; }
skip() { echo "SKIPPED: $*"; exit 77; }
fail() {
  echo "$(basename "$0"): $*" >&2
  for log in daemon.log gpsd.log; do [ ! -f "$log" ] || { echo "-- $log"; tail -n 60 "$log"; } >&2; done
  exit 1
}
end_one() { # end_one PID: asks it to end and waits; kills it after 10 s
  [ -n "$1" ] && kill -TERM "$1" 2>/dev/null || return 0
  timeout 10 tail --pid="$1" -s 0.05 -f /dev/null || kill -KILL "$1" 2>/dev/null || true
  wait "$1" 2>/dev/null || true
}
end_all() {
  end_one "$feeder_pid"; end_one "$daemon_pid"; end_one "$parec_pid"; end_one "$gpsd_pid"
}
trap end_all EXIT
trap 'exit 1' INT TERM

for program in gpsd gpsbabel sqlite3; do
  PATH=$PATH:/usr/sbin command -v $program >/dev/null || skip "$program is not there"
done

ports=$("$AWAIT" free-ports 2)
gpsd_port=$(echo "$ports" | sed -n 1p) nmea_port=$(echo "$ports" | sed -n 2p)

start_gpsd() {
  PATH=$PATH:/usr/sbin gpsd -N -n -b -S "$gpsd_port" "udp://127.0.0.1:$nmea_port" >>gpsd.log 2>&1 &
  gpsd_pid=$!
}

# write_settings HILLS RIG
write_settings() {
  cat > settings.yaml <<EOF
hills: $1
rig: $2
phrases: $SOURCE/sounds/phrases
logs: .
control: control
state: state
gpsd_host: 127.0.0.1
gpsd_port: $gpsd_port
device: coach
log_level: debug
EOF
}

tell() { "$TALKDOWN" tell --settings settings.yaml "$@"; }
# status_has TEXT SECONDS: waits until the status holds the text
cat > status_has.sh <<EOF
#!/bin/sh
"$TALKDOWN" tell --settings settings.yaml status 2>/dev/null | grep -q -- "\$1"
EOF
await_status() { "$AWAIT" "$2" sh status_has.sh "$1" || fail "status never had $1"; }
await_log() { "$AWAIT" "$2" grep -q -- "$1" daemon.log || fail "the daemon never said \"$1\""; }

lines() { grep -c -- "$1" daemon.log || true; }
# await_more TEXT COUNT SECONDS: until the daemon's log has the text more than COUNT times
await_more() {
  "$AWAIT" "$3" sh -c "[ \$(grep -c -- '$1' daemon.log) -gt $2 ]" ||
    fail "\"$1\" did not come again after the first $2"
}

start_daemon() {
  "$TALKDOWND" --settings settings.yaml 2>>daemon.log &
  daemon_pid=$!
}

# start_with_stuck_calls: the daemon with library calls that hang while a file of their name is in
# the folder stuck (tests/support/stuck_calls.c).
start_with_stuck_calls() {
  mkdir -p stuck
  ( export TD_STUCK_DIR="$PWD/stuck" LD_PRELOAD="$STUCK_CALLS"
    export ASAN_OPTIONS="${ASAN_OPTIONS:+$ASAN_OPTIONS:}verify_asan_link_order=0"
    exec "$TALKDOWND" --settings settings.yaml 2>>daemon.log ) &
  daemon_pid=$!
}

start_recording() {
  parec -d cab.monitor --rate=22050 --channels=1 --format=s16le --latency-msec=20 \
    --file-format=wav heard.wav 2>parec.log &
  parec_pid=$!
  "$AWAIT" 10 test -s heard.wav || fail "nothing is recorded"
}

stop_recording() {
  kill -INT "$parec_pid"
  wait "$parec_pid" 2>/dev/null || true
  parec_pid=
}

stop_daemon() {
  kill -TERM "$daemon_pid"
  wait "$daemon_pid" || fail "the daemon ended with $?"
  daemon_pid=
  # What a sanitizer found in the voice process ends nothing but that process.
  ! grep -q 'ThreadSanitizer\|AddressSanitizer\|runtime error:' daemon.log ||
    fail "a sanitizer found something"
}

# write_prompts DRIVE.db: prompts.txt of a live drive, each at the moment its sound began
write_prompts() {
  sqlite3 -readonly "$1" "SELECT printf('%8.1f s  %-8s %-8s %-20s %s',
      (b.now_ns - (SELECT value FROM meta WHERE key = 'start_ns')) / 1e9, b.category,
      (SELECT kind FROM event e WHERE e.serial = b.serial ORDER BY seq DESC, place DESC LIMIT 1),
      b.prompt, (SELECT words FROM words w WHERE w.serial = b.serial))
    FROM event b WHERE b.kind = 'started' ORDER BY b.seq, b.place" > prompts.txt
}
