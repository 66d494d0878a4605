#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# layers.sh SOURCE_DIR: dependencies point one way, and foreign library types stay in their file.
set -eu
cd "$1"
bad=0
# layer "folder" "folders it may include from (besides include/talkdown and itself)"
layer() {
  for file in $(find "src/$1" -name '*.[ch]'); do
    for from in $(sed -n 's|^#include "\([a-z_]*\)/.*|\1|p' "$file" | sort -u); do
      case " talkdown $1 $2 " in
        *" $from "*) ;;
        *) echo "$file includes from $from/, which src/$1 may not use"; bad=1 ;;
      esac
    done
  done
}
layer base ""
layer core ""
layer phrase ""
layer sim ""
layer survey ""
layer io "phrase"
layer voice "base"
layer review "io phrase voice"
layer daemon "io phrase voice"
layer tool "io phrase voice sim survey review"
# Public headers know no private ones.
if grep -nE '^#include "' include/talkdown/*.h | grep -v '"talkdown/'; then
  echo "a public header includes a private one"; bad=1
fi
# A foreign library's types stay inside the files named.
owner() {
  for file in $(grep -rlE "^#include <($1)" src || true); do
    case " $2 " in *" $file "*) ;; *) echo "$file includes <$1>, which belongs in: $2"; bad=1 ;; esac
  done
}
owner 'gps\.h' "src/io/gpsd.c"
owner 'espeak-ng/' "src/voice/synth.c src/voice/synth_server.c"
owner 'portaudio\.h' "src/voice/player.c"
owner 'ebur128\.h' "src/voice/loudness.c"
owner 'sndfile\.h' "src/voice/sink.c"
owner '(gdal|ogr_|cpl_)[a-z_]*\.h' "src/io/tiles.c"
owner 'expat\.h' "src/io/track_gpx.c"
owner 'libevdev/' "src/io/button.c"
owner 'sodium\.h' "src/io/hash.c"
owner 'sqlite3\.h' "src/io/drive_log.c src/io/drive_reader_parts.h src/io/library_parts.h src/io/library_pack.c"
exit $bad
