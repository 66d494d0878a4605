#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# sound_faults.sh: one drive down a hill while the sound fails in every way that was seen: the server
# killed in mid-word, hung, its plug-in in a call that never returns (in playing, then in opening),
# the device gone and back. Each is found and told, prompts are decided all the while, and what was
# lost is said again with its distance of then. At the end the log must show all that and replay.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
: "${STUCK_CALLS:?}"
. "$SOURCE/tests/support/live_rig.sh"
. "$SOURCE/tests/support/lane_hill.sh"
status_number() { tell status | sed -n "s/.*\"$1\":\([0-9]*\).*/\1/p"; }
await_mid_word() { await_more 'escape_lane started' "$(lines 'escape_lane started')" 30; }

# goes_away: the loss is told, and prompts of the hill are decided meanwhile. What was lost is in
# the queue anew at once, so only a second decision is a new one.
goes_away() {
  "$AWAIT" 20 sh -c "[ \$(grep -c 'sound is away' daemon.log) -gt $aways ]" || fail "no loss told"
  await_status '"sound":{"up":false' 10
  await_more 'escape_lane decided' "$(lines 'escape_lane decided')" 20
}
comes_back() {
  await_more 'sound is up' "$ups" 30
  await_status '"sound":{"up":true' 10
  await_more 'sound_back started' "$backs" 20
  await_more 'escape_lane spoken' "$(lines 'escape_lane spoken')" 30
}
count_now() {
  aways=$(lines 'sound is away') ups=$(lines 'sound is up') backs=$(lines 'sound_back started')
  pid=$(status_number voice_pid) respawns=$(status_number voice_respawns)
}
await_respawns() { # await_respawns LEAST
  "$AWAIT" 40 sh -c "[ \$(\"$TALKDOWN\" tell --settings settings.yaml status |
    sed -n 's/.*\"voice_respawns\":\([0-9]*\).*/\1/p') -ge $1 ]" || fail "not started anew"
}

write_lane_hill
write_lane_drive 1600 400
write_settings hill.geojson "$SOURCE/profiles/rigs/box-truck.yaml"
start_with_stuck_calls
await_status '"sound":{"up":true' 30
tell load full || fail "tell load"
await_log 'ready spoken' 30
start_gpsd
await_status '"connections":[1-9]' 30
"$FEEDER" drive.nmea "$nmea_port" 0 0 > feeder.log &
feeder_pid=$!
await_mid_word

count_now
kill -KILL "$(cat "$TD_SOUND_DIR/run/pid")"
goes_away
sh "$TD_SOUND_SERVER" start "$TD_SOUND_DIR"
comes_back
ok "the server killed in mid-word and started again"

await_mid_word
count_now
kill -STOP "$(cat "$TD_SOUND_DIR/run/pid")"
goes_away
kill -CONT "$(cat "$TD_SOUND_DIR/run/pid")"
comes_back
[ "$(status_number voice_pid)" != "$pid" ] || fail "the hung voice process lives on"
ok "the server hung and went on"

count_now
: > stuck/write
goes_away
await_status 'hung"' 10
await_respawns $((respawns + 2))
[ "$(lines 'sound is up')" = "$ups" ] || fail "a stream that hangs in its first write was told as up"
: > stuck/open
rm stuck/write
await_respawns $((respawns + 4))
rm stuck/open
comes_back
[ "$(status_number voice_pid)" != "$pid" ] || fail "the stuck voice process lives on"
ok "a plug-in's call that never returns, in playing and in opening"

count_now
pactl unload-module module-null-sink
goes_away
pactl load-module module-null-sink sink_name=cab format=s16le rate=22050 channels=1 norewinds=1 \
  >/dev/null
comes_back
ok "the device gone and found again by its name"

end_one "$feeder_pid"; feeder_pid=
tell status > status.json || fail "tell status"
stop_daemon

drive=$(ls drive-*.db) || fail "no drive log"
# none WHAT SQL: rows that must not be
none() {
  sqlite3 -readonly "$drive" "$2" > rows
  [ ! -s rows ] || { head -n 5 rows >&2; fail "$1"; }
}
# An outage lasts from a step with sound down (2) to the next with sound up (1).
outages="WITH outage AS (SELECT seq AS down, (SELECT min(seq) FROM event u
    WHERE u.kind = 'sound' AND u.value = 1 AND u.seq > e.seq) AS up
  FROM event e WHERE kind = 'sound' AND value = 2)"
with_prompts=$(sqlite3 -readonly "$drive" "$outages SELECT count(*) FROM outage WHERE up IS NOT NULL AND
  EXISTS (SELECT 1 FROM event d WHERE d.seq > down AND d.seq < up AND d.kind = 'decided'
    AND d.why = 'distance')")
[ "$with_prompts" -ge 4 ] || fail "$with_prompts outages in the log with prompts of the hill, not four"
none "a prompt was handed to a voice that was not there" "$outages SELECT * FROM outage JOIN event i
  ON i.kind = 'issued' AND i.seq > down AND i.seq < up"
none "a report had no step of its own" "WITH fix AS
  (SELECT json_extract(input, '$.fix.utc_ms') / 1000 AS s FROM step WHERE input LIKE '%\"fix\"%')
  SELECT max(s) - min(s) + 1, count(DISTINCT s) FROM fix HAVING max(s) - min(s) + 1 <> count(DISTINCT s)"
none "records are missing" "SELECT * FROM gap"

# Metres as spoken and as they were; what was lost and said again, and how far it was each time.
cat > lanes.sql <<'SQL'
CREATE TEMP VIEW lane AS SELECT seq, serial, json_extract(json, '$.place') AS place,
  json_extract(json, '$.about_m') - along_m AS true_m,
  json_extract(json, '$.args[1].value') * CASE json_extract(json, '$.args[1].unit')
    WHEN 7 THEN 402.336 WHEN 8 THEN 1609.344 WHEN 9 THEN 0.3048 END AS said_m
  FROM event WHERE kind = 'issued' AND prompt = 'escape_lane';
CREATE TEMP VIEW fate AS SELECT serial, kind FROM event WHERE prompt = 'escape_lane'
  AND kind IN ('lost', 'spoken');
SQL
# (No distance is said of a lane that will be within 500 ft where the words end.)
cat lanes.sql - > too_far.sql <<'SQL'
SELECT * FROM lane WHERE said_m > true_m + 1 OR (said_m IS NULL AND true_m > 300);
SQL
cat lanes.sql - > again.sql <<'SQL'
SELECT a.place, round(coalesce(a.said_m, 0)), round(a.true_m), round(coalesce(b.said_m, 0)),
  round(b.true_m)
  FROM lane a JOIN fate l ON l.serial = a.serial AND l.kind = 'lost'
  JOIN lane b ON b.place = a.place AND b.seq > a.seq
  JOIN fate s ON s.serial = b.serial AND s.kind = 'spoken';
SQL
sqlite3 -readonly "$drive" < too_far.sql > rows
[ ! -s rows ] || { cat rows >&2; fail "a lane was said to be farther than it was"; }
sqlite3 -readonly "$drive" < again.sql > again
echo "lane, metres said and true when it was lost, and when it was said again:"
cat again
[ "$(wc -l < again)" -ge 1 ] || fail "what was lost was not said again"
awk -F'|' '$4 > $2 || $5 >= $3 { exit 1 }' again || fail "the distance was not brought up to date"
ok "the log shows each outage, and what was lost was said again with its distance of then"
"$TALKDOWN" replay --exact "$drive" || fail "the replay of the drive differs"
