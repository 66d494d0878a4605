#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# library_reload.sh: the real daemon on a library, a truck on one of its hills. The library is
# replaced by a larger one, then by bad ones; the truck keeps its hill and its place all the while,
# and what is refused is told and said.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"
FROM_M=0 SPEED_MPS=18
. "$SOURCE/tests/support/live_descent.sh"

"$TALKDOWN" hills pack "$hill" --out fleet.hills || fail "pack"
write_settings fleet.hills "$SOURCE/profiles/rigs/five-axle.yaml"
set_out
ok "on a hill of the library"
still_there 1

"$TALKDOWN" hills pack "$SOURCE/profiles/hills" --out fleet.hills --force || fail "pack again"
hills=$(ls "$SOURCE"/profiles/hills/*.geojson | wc -l)
tell reload || fail "the larger library was refused"
still_there "$hills"
ok "a larger library under way"

cp fleet.hills good.hills
head -c 20000 good.hills > cut.hills && mv cut.hills fleet.hills
refused 'cut short'
echo 'no library at all' > text.hills && mv text.hills fleet.hills
refused 'is no library'
cp good.hills newer.hills && sqlite3 newer.hills 'PRAGMA user_version=3' && mv newer.hills fleet.hills
refused 'newer than version 2'
ok "bad libraries are refused and the last good one stays"
await_log 'library_refused' 60
mv good.hills fleet.hills
tell reload || fail "the good library was refused"
still_there "$hills"
tell status | grep -q '"refused":null' || fail "the status still tells of a refusal"
one_hill_all_the_way
ok "one hill from first to last, and its log replays exactly"
