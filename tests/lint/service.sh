#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# service.sh SOURCE: systemd itself finds nothing to say about the daemon's unit. A key in the wrong
# section is left out with no more than a line in the journal: StartLimitIntervalSec was one, and a
# daemon that failed five times in ten seconds would have stayed silent.
set -eu
command -v systemd-analyze >/dev/null || { echo "SKIPPED: systemd-analyze is not there"; exit 77; }
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
# The program need not be installed to read its unit.
sed 's#^ExecStart=[^ ]*#ExecStart=/bin/true#' "$1/src/daemon/talkdownd.service" \
  > "$folder/talkdownd.service"
found=$(systemd-analyze verify --man=no "$folder/talkdownd.service" 2>&1) || true
[ -z "$found" ] || { echo "$found"; exit 1; }
