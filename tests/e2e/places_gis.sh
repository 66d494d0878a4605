#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# places_gis.sh TALKDOWN SOURCE_DIR: a profile that a GIS program opens and saves is the same hill.
# GDAL's ogr2ogr stands for the program: it saves as GeoJSON, and through formats that keep other
# types (collections only, texts only, no booleans, dates), other orders and heights of points. After
# each, "hills check" finds nothing, the plan and the list of places are the same to the byte, and
# places can be moved.
set -eu
talkdown=$1
rig=$2/profiles/rigs/five-axle.yaml
command -v ogr2ogr > /dev/null || { echo "SKIPPED: ogr2ogr (gdal-bin) is not there"; exit 77; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
cd "$work"
bad=0 saved=0
fail() { echo "places_gis.sh: $*"; bad=$((bad + 1)); }
gis() { ogr2ogr -q "$@" 2> err.txt || fail "ogr2ogr $*: $(cat err.txt)"; }

# plan_of FILE: without its name
plan_of() { "$talkdown" plan "$1" --rig "$rig" --json | sed "s|$1|HILL|g"; }

# same NAME: saved.geojson against what hill.geojson was
same() {
  saved=$((saved + 1))
  "$talkdown" hills check saved.geojson > check.txt || fail "$1: $(cat check.txt)"
  grep -q '^1 profiles, 0 errors, 0 warnings$' check.txt || fail "$1: $(cat check.txt)"
  plan_of saved.geojson > plan.txt
  cmp -s plan.txt plan.was || fail "$1: another plan: $(diff plan.txt plan.was | head -5)"
  "$talkdown" places list --csv saved.geojson > list.txt
  cmp -s list.txt list.was || fail "$1: other places: $(diff list.txt list.was | head -6)"
  "$talkdown" hills list --json saved.geojson | grep -q '"surveyed": "2031-05-17", "revision": 7' ||
    fail "$1: another date or revision: $("$talkdown" hills list --json saved.geojson)"
  "$talkdown" places posts saved.geojson | grep -q '^mile 31 at 1610 m' || fail "$1: other posts"
  # It goes on being worked on: moved there and back, every place is where it was.
  cp saved.geojson moved.geojson
  "$talkdown" places move moved.geojson first-lane --along "3000 ft past crest" > moved.txt ||
    fail "$1: $(cat moved.txt)"
  "$talkdown" places import moved.geojson list.was > moved.txt || fail "$1: $(cat moved.txt)"
  grep -q '0 added, 1 moved, 0 changed, 0 removed' moved.txt || fail "$1: $(cat moved.txt)"
  # An at_m that nothing needs is not written again.
  sed 's/^\([^,]*,[^,]*\),,[0-9]* m,-/\1,,,-/' list.was > list.back
  "$talkdown" places list --csv moved.geojson | sed 's/^\([^,]*,[^,]*\),,[0-9]* m,-/\1,,,-/' > list.txt
  cmp -s list.txt list.back || fail "$1: not moved back: $(diff list.txt list.back | head -6)"
}

# through NAME FORMAT ENDING [OPTIONS TO IT] [-- OPTIONS BACK]
through() {
  name=$1 format=$2 ending=$3; shift 3
  there=; while [ $# -gt 0 ] && [ "$1" != -- ]; do there="$there $1"; shift; done
  [ $# -eq 0 ] || shift
  rm -f "between.$ending" saved.geojson
  # shellcheck disable=SC2086 # one word an option
  gis -f "$format" $there "between.$ending" hill.geojson
  gis -f GeoJSON "$@" saved.geojson "between.$ending"
  same "$name"
}

for hill in ombral-pass tavinek-switchbacks; do
  # All that a fleet may have put into it: ids, posts, revision, date, passes, columns of its own.
  sed 's/"role": "road"/"role": "road", "revision": 5, "passes": 4, "surveyed": "2031-05-17", "position_sigma": "2.5 m", "x_keeper": "ours"/; s/"role": "brake-check"/"role": "brake-check", "mandatory": true, "x_tags": ["a", "b"]/; s/"mandatory": true, "x_tags"\(.*\)"mandatory": true, /"x_tags"\1"mandatory": true, /' \
    "$2/profiles/hills/$hill.geojson" > hill.geojson
  "$talkdown" places posts hill.geojson "mile 30 at 0 m; mile 31 at 1610 m; mile 35 at 8050 m" > out.txt
  number=$("$talkdown" places list hill.geojson | grep -m 1 escape-lane | cut -d' ' -f1)
  "$talkdown" places change hill.geojson "$number" --id first-lane --name "The first, \"wide\"" > out.txt
  "$talkdown" hills check hill.geojson > out.txt || fail "$hill: $(cat out.txt)"
  plan_of hill.geojson > plan.was
  "$talkdown" places list --csv hill.geojson > list.was
  "$talkdown" places list hill.geojson | grep -q 'mandatory true' || fail "$hill: no flag in it"

  gis -f GeoJSON saved.geojson hill.geojson; same "$hill, saved"
  rm saved.geojson
  gis -f GeoJSON -lco RFC7946=YES -lco WRITE_BBOX=YES saved.geojson hill.geojson
  same "$hill, saved with boxes, as of RFC 7946"
  through "$hill, a table of texts" CSV csv -lco GEOMETRY=AS_WKT -- \
    -a_srs EPSG:4326 -oo GEOM_POSSIBLE_NAMES=WKT -oo KEEP_GEOM_COLUMNS=NO
  through "$hill, GPKG of collections" GPKG gpkg -nlt PROMOTE_TO_MULTI -mapFieldType StringList=String
  [ "$hill" = ombral-pass ] || continue
  through "GPKG" GPKG gpkg
  through "SQLite" SQLite sqlite
  through "GML" GML gml
  through "points with heights" GPKG gpkg -dim XYZ
  through "another order" GPKG gpkg -- -sql "SELECT * FROM \"hill\" ORDER BY role DESC, fid DESC"
done

# What a program cannot keep is said: six decimals are a tenth of a metre, and the plan may tell it
# only by the metres at which its stretches begin.
rm -f saved.geojson
gis -f GeoJSON -lco COORDINATE_PRECISION=6 saved.geojson hill.geojson
"$talkdown" hills check saved.geojson > check.txt || fail "six decimals: $(cat check.txt)"
plan_of saved.geojson | grep -E '_mph|"gear"' > plan.txt
grep -E '_mph|"gear"' plan.was | cmp -s - plan.txt || fail "six decimals: other speeds"
# Without heights there is no hill; in another system it is another place. Both are refused.
rm -f saved.geojson
gis -f GeoJSON -dim XY saved.geojson hill.geojson
code=0; "$talkdown" hills check saved.geojson > check.txt || code=$?
[ $code = 1 ] && grep -q 'vertex 1 has no elevation' check.txt || fail "no heights: $(cat check.txt)"
rm -f saved.geojson
gis -f GeoJSON -s_srs EPSG:4326 -t_srs EPSG:3857 saved.geojson hill.geojson
code=0; "$talkdown" hills check saved.geojson > check.txt || code=$?
[ $code = 1 ] && grep -q 'save it as WGS 84' check.txt || fail "another system: $(cat check.txt)"
echo "$saved saves, $bad not as they should be"
[ "$saved" = 13 ] || { echo "not 13 saves"; exit 1; }
[ "$bad" = 0 ]
