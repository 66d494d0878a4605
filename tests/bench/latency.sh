#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# latency.sh SECONDS: from the last byte of the position report that caused a prompt to its first
# sample heard, through a real gpsd, the daemon and a real sound server with a stream of 50 ms.
# Prints p50, p99 and the worst; wanted: p99 at most 150 ms. A report: it fails only when nothing
# could be measured. Needs LATENCY_RIG, the program that drives and listens.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"
: "${LATENCY_RIG:?}"

# 1.5 km level, 12 km of 5 %, 1 km level, due south; posted for trucks at 30 mph.
awk 'BEGIN {
  printf "{\"type\": \"FeatureCollection\", \"features\": [\n{\"type\": \"Feature\", \"properties\": "
  printf "{\"role\": \"road\", \"id\": \"bench-hill\", \"name\": \"Bench Hill\"}, \"geometry\": "
  printf "{\"type\": \"LineString\", \"coordinates\": [\n"
  for (m = -2000; m <= 14500; m += 50) {
    down = m < 1500 ? 0 : m > 13500 ? 12000 : m - 1500
    printf "[-128.0, %.7f, %.2f]%s\n", -47 - m / 111200, 900 - down * 0.05, m < 14500 ? "," : ""
  }
  printf "]}},\n{\"type\": \"Feature\", \"properties\": {\"role\": \"truck-speed\", \"speed\": \"30 mph\"}, "
  printf "\"geometry\": {\"type\": \"Point\", \"coordinates\": [-128.0, %.7f]}}]}\n", -47 - 1500 / 111200
}' > hill.geojson
"$TALKDOWN" hills check hill.geojson || fail "the hill does not pass"
write_settings hill.geojson "$SOURCE/profiles/rigs/box-truck.yaml"
echo 'stream_latency: 50 ms' >> settings.yaml

start_gpsd
start_daemon
await_status '"sound":{"up":true' 30
tell load full || fail "tell load"
await_log 'ready spoken' 60
await_status '"connections":1' 30
"$LATENCY_RIG" "$nmea_port" "$1" sends onsets || fail "the drive could not be driven"
stop_daemon

# The report that caused a prompt is the one of the step that issued it. Sounds and prompts come in
# the same order; a prompt that another cut shares its silence, so numbers must agree.
drive=$(ls drive-*.db)
sqlite3 -readonly -separator ' ' "$drive" "SELECT s.seq,
    coalesce(json_extract(i.input, '\$.fix.utc_ms'), 0), s.prompt
  FROM event s JOIN step i ON i.seq = s.seq WHERE s.kind = 'issued' AND EXISTS (SELECT 1
    FROM event b WHERE b.kind = 'started' AND b.serial = s.serial) ORDER BY s.seq, s.place" |
  grep -vE ' (ready|set_for|load_not_confirmed)$' > issued
awk 'FILENAME == "sends" { sent[$1] = $2; next }
     FILENAME == "onsets" { onset[++sounds] = $1; next }
     { prompts++; of_day = $2 % 86400000
       if ($2 == 0 || !(of_day in sent)) { timed++; next }
       while (next_sound < sounds && onset[next_sound + 1] < sent[of_day]) next_sound++
       if (next_sound >= sounds) next
       late = (onset[++next_sound] - sent[of_day]) / 1e6
       if (late < 1000) printf "%.1f\n", late
       else passed++ }
     END { printf "%d sounds, %d prompts, %d of them not caused by a report, %d cut before a sound\n",
           sounds, prompts, timed, passed > "/dev/stderr" }' sends onsets issued | sort -n > late
count=$(wc -l < late)
[ "$count" -ge 3 ] || { cat issued >&2; fail "only $count prompts could be measured"; }
[ -z "${KEEP:-}" ] || cp sends onsets issued late daemon.log "$drive" "$KEEP"
awk -v n="$count" '{ ms[NR] = $1 } END {
  printf "report to first sample, ms: p50 %.0f, p99 %.0f, worst %.0f of %d (wanted: p99 150)\n",
         ms[int((n + 1) / 2)], ms[int(n * 0.99 + 0.999)], ms[n], n }' late
