#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# library_signed.sh: the fleet's steps as the manual has them, with the ordinary minisign tool, and a
# truck whose daemon trusts one key. While it is on the grade its library is replaced by a signed
# one, then by whatever must be refused; it keeps its hill, its place and its voice all the while.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"
command -v minisign >/dev/null || skip "minisign is not there"
profile=$SOURCE/profiles/hills/ombral-pass.geojson
crest_m=$("$TALKDOWN" hills list --json "$profile" | sed -n 's/.*"crest_m": \([0-9]*\).*/\1/p')
FROM_M=$((crest_m - 300)) SPEED_MPS=7 # on the grade after 45 s, and slow enough for it
. "$SOURCE/tests/support/live_descent.sh"

for who in fleet other; do
  minisign -G -W -p $who.pub -s $who.key >/dev/null || fail "no key"
done
# sign NAME KEY REVISION PATH...: packs, signs and attaches
sign() {
  name=$1 key=$2 revision=$3; shift 3
  "$TALKDOWN" hills pack "$@" --out $name.hills --revision "$revision" --force || fail "pack $name"
  "$TALKDOWN" hills manifest $name.hills > $name.manifest || fail "manifest $name"
  minisign -S -s $key.key -m $name.manifest -x $name.minisig -t "revision $revision" >/dev/null ||
    fail "minisign refused to sign"
  "$TALKDOWN" hills attach $name.hills $name.minisig --key $key.pub || fail "attach $name"
}
all=$SOURCE/profiles/hills
sign fleet fleet 1 "$hill"
sign good fleet 2 "$all"
sign old fleet 1 "$all"
sign torn fleet 3 "$all"
sqlite3 torn.hills 'DELETE FROM road WHERE piece = (SELECT max(piece) FROM road)' || fail 'tear'
sign foreign other 3 "$all"
"$TALKDOWN" hills pack "$all" --out unsigned.hills --revision 3 || fail "pack"

# verify: only the right key vouches.
verify() { # verify EXIT WORDS ARGUMENTS...
  code=$1 words=$2; shift 2
  is=0; "$TALKDOWN" hills verify "$@" > verify.log 2>&1 || is=$?
  [ "$is" = "$code" ] || fail "verify $*: exit $is, not $code: $(cat verify.log)"
  grep -q -- "$words" verify.log || fail "verify $* does not say \"$words\": $(cat verify.log)"
}
verify 0 'signed by [0-9A-F]*: revision 2. Verified: the signature' good.hills --key fleet.pub
verify 0 '"verified": true, ' good.hills --json --key "$(sed -n 2p fleet.pub)"
verify 1 'carries a signature that was not checked' good.hills
verify 1 'which is not trusted' good.hills --key other.pub
verify 1 'is unsigned' unsigned.hills --key fleet.pub
verify 1 'unsigned: nobody vouches' unsigned.hills
cp good.hills altered.hills
sqlite3 altered.hills "UPDATE profile SET bytes = CAST(replace(CAST(bytes AS TEXT), '20 mph', '80 mph') AS BLOB)"
verify 1 'is not as it was packed' altered.hills --key fleet.pub
verify 2 'is no public key of minisign' good.hills --key fleet.manifest
"$TALKDOWN" hills attach unsigned.hills good.minisig --key fleet.pub >attach.log 2>&1 &&
  fail "took the signature of another library"
grep -q 'does not fit' attach.log || fail "attach: $(cat attach.log)"
# minisign itself agrees with what is in the file.
sqlite3 -noheader good.hills "SELECT value FROM meta WHERE key = 'signature'" | sed '/^$/d' > out.minisig
minisign -V -p fleet.pub -m good.manifest -x out.minisig >/dev/null || fail "minisign disagrees"
ok "signed, attached and verified as the manual has it"

write_settings fleet.hills "$SOURCE/profiles/rigs/five-axle.yaml"
echo 'trusted_key: fleet.pub' >> settings.yaml
"$TALKDOWND" --settings settings.yaml --check || fail "--check refuses the signed library"
set_out
hills=1
tell status | grep -q '"library":{"revision":1,"signed_by":"[0-9A-F]*","verified":"[a-z ]*","refused":null}' ||
  fail "the status does not say who signed: $(tell status)"
still_there 1
"$AWAIT" 90 sh -c "[ \"\$(\"$TALKDOWN\" tell --settings settings.yaml status |
  sed -n 's/.*\"along_m\":\\([0-9]*\\).*/\\1/p')\" -gt $crest_m ]" || fail "never got past the crest"
cp good.hills next.hills && mv next.hills fleet.hills
tell reload || fail "the signed library was refused"
hills=$(ls "$all"/*.geojson | wc -l)
still_there "$hills"
ok "swapped for a signed one on the grade"

# Signed and opened like any other; only looked through it shows that a box is gone from its index.
await_status '"verified":"whole"' 20
cp torn.hills next.hills && mv next.hills fleet.hills
tell reload || fail "opening saw more than it can"
await_log 'the last good library takes its place' 20
await_status '"revision":2,.*"verified":"whole"' 20
tell status | grep -q 'leads a search astray' || fail "the status does not say why: $(tell status)"
await_log 'library_refused started' 60
still_there "$hills"
ok "one with a hole in its index gives way to the last good one on the grade"

swap() { cp "$1" next.hills && mv next.hills fleet.hills; }
swap unsigned.hills; refused 'is unsigned, and a key is trusted'
await_log 'library_refused started' 60
swap foreign.hills; refused 'which is not trusted'
swap old.hills; refused 'is revision 1, older than revision 2 in use'
cp good.hills next.hills && sqlite3 next.hills \
  "UPDATE meta SET value = replace(value, 'revision 2', 'revision 9')" && mv next.hills fleet.hills
refused 'does not fit'
head -c 20000 good.hills > next.hills && mv next.hills fleet.hills; refused 'cut short'
cp good.hills next.hills && sqlite3 next.hills 'PRAGMA user_version=1' && mv next.hills fleet.hills
refused 'older than version 2'
ok "unsigned, foreign, old, altered, cut and of another schema: refused, and the last good one stays"
# Asked for, because on a slow build the whole drive's own words may have been said by now.
prompts=$(grep -c ' started ' daemon.log)
tell again || fail "nothing to say again"
"$AWAIT" 60 sh -c "[ \$(grep -c ' started ' daemon.log) -gt $prompts ]" || fail "nothing was said any more"
ok "the coaching goes on"
one_hill_all_the_way
ok "one hill from first to last, and its log replays exactly"

# Started again on the bad file: the last good one takes its place, and this is said.
: > daemon.log
start_daemon
await_status "\"hills\":$hills," 20
await_log 'the last good library takes their place' 20
await_log 'library_refused started' 60
stop_daemon
ok "the last good one outlives a restart"
