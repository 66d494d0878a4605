#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# whole_descent.sh BUILD OUT: live_hill.sh over the whole recorded descent, 19 minutes in real time;
# not in the suite. The recording, prompts and drive log go to the folder OUT.
set -eu
build=$(cd "$1" && pwd)
mkdir -p "$2"
KEEP=$(cd "$2" && pwd)
source=$(cd "$(dirname "$0")/../.." && pwd)
export KEEP TALKDOWN="$build/src/tool/talkdown" TALKDOWND="$build/src/daemon/talkdownd" \
  FEEDER="$build/tests/nmea_feeder" AWAIT="$build/tests/await" RECOGNISE="$build/tests/recognise"
exec sh "$source/tests/support/sound_server.sh" run \
  sh "$source/tests/e2e/live_hill.sh" "${SHARED:-$source/../shared}" 0 0 20
