#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# say.sh TALKDOWN: the sound check through a real sound server, into a file, and with nothing to
# sound on. Runs below sound_server.sh.
set -eu
talkdown=$1
cd "$TD_SOUND_DIR"
fail() { echo "say.sh: $*" >&2; exit 1; }

# expect CODE WORDS COMMAND...: exit code, and the words somewhere in what it printed
expect() {
  code=$1 words=$2; shift 2
  set +e; "$@" >out.txt 2>&1; got=$?; set -e
  [ "$got" = "$code" ] || { cat out.txt >&2; fail "$* gave $got, not $code"; }
  grep -q "$words" out.txt || { cat out.txt >&2; fail "$* did not say \"$words\""; }
}

expect 0 'said in 0.[0-9] s on coach' "$talkdown" say "Ready." --device coach
expect 0 'said in [0-9.]* s into out.wav' "$talkdown" say "Ready." --category danger --out out.wav
[ "$(head -c 4 out.wav)" = RIFF ] || fail "out.wav is no WAV"
[ "$(wc -c < out.wav)" -gt 10000 ] || fail "out.wav holds next to nothing"
expect 1 'has "nowhere" in its name; there are: ' "$talkdown" say "Ready." --device nowhere
expect 2 'no words that can be said\|too quiet' "$talkdown" say "..."
expect 2 'warning or danger would be right' "$talkdown" say "Ready." --category loud
expect 2 'TEXT' "$talkdown" say
expect 2 'cannot write' "$talkdown" say "Ready." --out none/such/out.wav
sh "$TD_SOUND_SERVER" stop "$TD_SOUND_DIR"
expect 1 'no sound: ' "$talkdown" say "Ready." --device coach
