#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# latency.sh PROMPTS: from the last byte of the position report that caused a prompt to its first
# sample heard, through a real gpsd, the daemon and a real sound server with a stream of 50 ms.
# Prints p50, p99 and the worst; wanted: p99 at most 150 ms. A report: it fails only when nothing
# could be measured. Needs LATENCY_RIG, the program that drives and listens. The truck passes an
# escape lane every five seconds, as soon as the words before are over; a drive down the hill gives
# some hundred prompts in eight minutes, and drives follow until there are enough.
SOURCE=$(cd "$(dirname "$0")/../.." && pwd)
. "$SOURCE/tests/support/live_rig.sh"
. "$SOURCE/tests/support/lane_hill.sh"
: "${LATENCY_RIG:?}"
wanted=$1

write_lane_hill 110
write_settings hill.geojson "$SOURCE/profiles/rigs/box-truck.yaml"
echo 'stream_latency: 50 ms' >> settings.yaml

# drive SECONDS: one drive, in sends and onsets; its log is left
drive() {
  rm -f drive-*.db daemon.log state
  start_daemon
  await_status '"sound":{"up":true' 30
  tell load full || fail "tell load"
  await_log 'set_for spoken' 60
  start_gpsd
  await_status '"connections":[1-9]' 30
  "$LATENCY_RIG" "$nmea_port" "$1" sends onsets || fail "the drive could not be driven"
  stop_daemon
  end_one "$gpsd_pid"; gpsd_pid=
}

# The report that caused a prompt is the one of the step that issued it. Sounds and prompts come in
# the same order; a prompt that another cut shares its silence, so numbers must agree.
measure() {
  sqlite3 -readonly -separator ' ' drive-*.db "SELECT s.seq,
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
             sounds, prompts, timed, passed > "/dev/stderr" }' sends onsets issued >> late
}

: > late
count=0 drives=0
while [ "$count" -lt "$wanted" ] && [ "$drives" -lt $((wanted / 50 + 2)) ]; do
  seconds=$((30 + 5 * (wanted - count)))
  [ "$seconds" -le 490 ] || seconds=490
  drive "$seconds"
  measure
  count=$(wc -l < late) drives=$((drives + 1))
  echo "after $drives drives: $count of $wanted"
done
[ "$count" -ge 3 ] || { cat issued >&2; fail "only $count prompts could be measured"; }
[ -z "${KEEP:-}" ] || cp sends onsets issued late daemon.log drive-*.db "$KEEP"
sort -n late | awk -v n="$count" '{ ms[NR] = $1 } END {
  printf "report to first sample, ms: p50 %.0f, p99 %.0f, worst %.0f of %d (wanted: p99 150)\n",
         ms[int((n + 1) / 2)], ms[int(n * 0.99 + 0.999)], ms[n], n }'
