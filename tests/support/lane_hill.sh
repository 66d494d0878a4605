# SPDX-License-Identifier: GPL-3.0-or-later
# An invented hill with something to say all the way down, and a truck that rolls down it; to be
# sourced by live tests.

# write_lane_hill [EVERY_M]: hill.geojson, due south from 47 S 128 W: 1.5 km level, 12 km of 4 %,
# 1 km level, posted for trucks at 55 mph; from 3 km to 13.4 km an escape lane on the right every
# 200 m, or as said.
write_lane_hill() {
  awk -v every="${1:-200}" 'function degrees(m) { return sprintf("%.7f", -47 - m / 111200) }
  function point(m, properties) {
    printf ",\n{\"type\": \"Feature\", \"properties\": {%s}, ", properties
    printf "\"geometry\": {\"type\": \"Point\", \"coordinates\": [-128.0, %s]}}", degrees(m)
  }
  BEGIN {
    printf "{\"type\": \"FeatureCollection\", \"features\": [\n{\"type\": \"Feature\", "
    printf "\"properties\": {\"role\": \"road\", \"id\": \"lane-hill\", \"name\": \"Lane Hill\"}, "
    printf "\"geometry\": {\"type\": \"LineString\", \"coordinates\": [\n"
    for (m = -2000; m <= 14500; m += 50) {
      down = m < 1500 ? 0 : m > 13500 ? 12000 : m - 1500
      printf "[-128.0, %s, %.2f]%s\n", degrees(m), 900 - down * 0.04, m < 14500 ? "," : "]}}"
    }
    point(1500, "\"role\": \"truck-speed\", \"speed\": \"55 mph\"")
    for (m = 3000; m < 13400; m += every)
      point(m, "\"role\": \"escape-lane\", \"side\": \"right\"")
    print "]}"
  }' > hill.geojson
  "$TALKDOWN" hills check hill.geojson || fail "the hill does not pass"
}

# write_lane_drive FROM_M SECONDS: drive.nmea, some 23 m/s from there, a report a second. The speed
# sways as a driver's does: motion without any is taken for a receiver's own invention.
write_lane_drive() {
  awk -v m="$1" -v seconds="$2" 'BEGIN { for (s = 0; s < seconds; s++) {
    speed = 23 + 0.6 * sin(s); m += speed
    place = sprintf("47%09.6f,S,12800.000000,W", m / 111200 * 60)
    time = sprintf("10%02d%02d.000", s / 60, s % 60)
    height = m < 1500 ? 900 : 900 - (m - 1500) * 0.04
    printf "$GPRMC,%s,A,%s,%.2f,180.0,010630,,\n", time, place, speed / 0.514444
    printf "$GPGGA,%s,%s,1,09,0.8,%.1f,M,0.0,M,,\n", time, place, height
  } }' > drive.nmea
}
