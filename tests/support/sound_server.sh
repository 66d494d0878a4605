#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A private sound server for tests: PulseAudio with one null sink "cab" (22,050 Hz, mono), its own
# socket and state, so that any number run side by side, as root too.
#   sound_server.sh start DIR   starts it, writes DIR/env to be sourced
#   sound_server.sh stop DIR    stops it; DIR stays
#   sound_server.sh run COMMAND...   starts one in a folder of its own, runs the command, stops it
# DIR is absolute and short (a socket's path has 107 bytes at most). The environment sets
# ALSA_CONFIG_PATH, through which PortAudio's "coach" and default devices lead to the sink;
# PULSE_SERVER, for `parec -d cab.monitor`; TD_SOUND_DIR, which is DIR; TD_SOUND_SERVER, this script.
# Exit 77: PulseAudio or its ALSA plug-in is not installed.
set -eu

plugin() {
  find /usr/lib -name libasound_module_pcm_pulse.so 2>/dev/null | grep -q .
}

write_files() {
  mkdir -p "$1/run" "$1/state" "$1/home"
  chmod 700 "$1/run"
  cat > "$1/alsa.conf" <<EOF
pcm_type.pulse { lib "libasound_module_pcm_pulse.so" }
pcm.coach { type pulse server "unix:$1/sock" device "cab" }
pcm.!default { type pulse server "unix:$1/sock" device "cab" }
ctl.!default { type null }
EOF
  cat > "$1/env" <<EOF
export ALSA_CONFIG_PATH='$1/alsa.conf' PULSE_SERVER='unix:$1/sock' PULSE_RUNTIME_PATH='$1/run'
export PULSE_STATE_PATH='$1/state' TD_SOUND_DIR='$1' TD_SOUND_SERVER='$self'
EOF
}

# --daemonize returns when the server listens, or failed to: nothing to wait for. norewinds: without
# it the null sink works in blocks of two seconds and the start of a recording is lost. Without a client for
# five minutes the server ends by itself: whoever started it was killed.
start() {
  command -v pulseaudio >/dev/null && command -v parec >/dev/null && plugin || {
    echo "SKIPPED: pulseaudio, pulseaudio-utils or libasound2-plugins is not there"
    exit 77
  }
  write_files "$1"
  rm -f "$1/sock" "$1/run/pid"
  ( . "$1/env"; unset PULSE_SERVER; HOME="$1/home"; export HOME
    exec pulseaudio -n --daemonize=yes --use-pid-file=yes --exit-idle-time=300 --disable-shm=yes \
      --realtime=no --high-priority=no --log-target="file:$1/log" --log-level=warn \
      -L "module-native-protocol-unix socket=$1/sock auth-anonymous=1" \
      -L "module-null-sink sink_name=cab format=s16le rate=22050 channels=1 norewinds=1"
  ) >"$1/out" 2>&1 </dev/null || { cat "$1/out" "$1/log" >&2; exit 1; }
}

stop() {
  [ -s "$1/run/pid" ] || return 0
  pid=$(cat "$1/run/pid")
  kill -CONT "$pid" 2>/dev/null || return 0
  kill -TERM "$pid" 2>/dev/null || return 0
  timeout 10 tail --pid="$pid" -s 0.05 -f /dev/null || kill -KILL "$pid"
}

run() {
  dir=$(mktemp -d "${TMPDIR:-/tmp}/td-sound.XXXXXX")
  trap 'stop "$dir"; rm -rf "$dir"' EXIT
  trap 'exit 129' HUP INT TERM
  start "$dir"
  . "$dir/env"
  "$@"
}

self=$(cd "$(dirname "$0")" && pwd)/$(basename "$0")
case ${1:-} in
  start | stop) "$1" "$2" ;;
  run) shift; run "$@" ;;
  *) echo "usage: sound_server.sh start DIR | stop DIR | run COMMAND..." >&2; exit 2 ;;
esac
