#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# slow_synthesis.sh: two daemons follow one drive; the synthesis of the second takes a hundred times
# as long as it should, and then hangs. Both must decide the same prompts at the same reports, the
# second while its synthesis hangs, and it must say them when it can.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
: "${STUCK_CALLS:?}"
. "$SOURCE/tests/support/live_rig.sh"
. "$SOURCE/tests/support/lane_hill.sh"

write_lane_hill
write_lane_drive 1600 200
write_settings hill.geojson "$SOURCE/profiles/rigs/box-truck.yaml"
mkdir plain stuck
sed -E 's,^(control|state): .*,\1: plain/\1,; s,^logs: .*,logs: plain,' settings.yaml > plain.yaml
: > stuck/slow
"$TALKDOWND" --settings plain.yaml 2>plain/daemon.log &
plain_pid=$!
trap 'end_one "$plain_pid"; end_all' EXIT
start_with_stuck_calls
for settings in plain.yaml settings.yaml; do
  "$AWAIT" 20 "$TALKDOWN" tell --settings "$settings" load full || fail "tell load, $settings"
done
await_status '"sound":{"up":true' 30
start_gpsd
await_status '"connections":[1-9]' 30
"$AWAIT" 30 sh -c "\"$TALKDOWN\" tell --settings plain.yaml status | grep -q '\"connections\":[1-9]'" ||
  fail "the plain daemon is not with gpsd"
"$FEEDER" drive.nmea "$nmea_port" 0 0 > feeder.log &
feeder_pid=$!
await_log 'escape_lane spoken' 40
[ "$(lines ' lost ')" = 0 ] || fail "slow words were lost"
tell status | grep -q '"voice_respawns":0' || fail "the slow voice process was killed"
ok "slow words are said"

# From here on no word can be made; what is decided then is decided without.
: > stuck/synth
rm stuck/slow
await_more ' issued' "$(lines ' issued')" 30
await_more 'escape_lane decided (distance)' "$(lines 'escape_lane decided (distance)')" 30
await_more 'escape_lane decided (distance)' "$(lines 'escape_lane decided (distance)')" 30
before=$(lines 'escape_lane started')
rm stuck/synth
ok "prompts are decided while the synthesis hangs"
await_more 'escape_lane started' "$before" 30
end_one "$feeder_pid"; feeder_pid=
stop_daemon
end_one "$plain_pid"

# Each lane and the report at which it was called for, in the order of the hill.
decided() {
  sqlite3 -readonly "$1" "SELECT e.prompt, json_extract(e.json, '$.place'),
      (SELECT json_extract(input, '$.fix.utc_ms') / 1000 FROM step s WHERE s.seq <= e.seq
        AND s.input LIKE '%\"fix\"%' ORDER BY s.seq DESC LIMIT 1)
    FROM event e WHERE e.kind = 'decided' AND e.why = 'distance' AND e.prompt = 'escape_lane'
    ORDER BY e.seq"
}
decided plain/drive-*.db > plain.txt
decided drive-*.db > slow.txt
[ "$(wc -l < slow.txt)" -ge 4 ] || fail "only $(wc -l < slow.txt) lanes were called for"
awk -F'|' 'NR == FNR { at[$1 "|" $2] = $3; next }
  { if (!($1 "|" $2 in at)) missing++
    else { apart = $3 - at[$1 "|" $2]; seen++; if (apart * apart > 1) late++ } }
  END { printf "%d prompts, %d not at the same report, %d of one daemon only\n", seen, late, missing
        exit late > 0 || missing > 1 || seen < 4 }' plain.txt slow.txt || {
  diff plain.txt slow.txt >&2
  fail "the slow synthesis changed what was decided"
}
ok "the same prompts at the same reports as with a quick synthesis"
"$TALKDOWN" replay --exact drive-*.db || fail "the replay of the drive differs"
