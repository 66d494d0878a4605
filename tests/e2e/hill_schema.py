# SPDX-License-Identifier: GPL-3.0-or-later
"""hill_schema.py TALKDOWN SOURCE_DIR [--all]: docs/hill.schema.json against the reader.

The demo hills pass both. Then hundreds of altered profiles: what the schema refuses the reader must
refuse too, and what the reader refuses the schema must refuse as well, but for reasons that a schema
cannot tell, all of them listed below (the validator is jsonschema of Debian, json-schema.org draft
2020-12).
"""
import copy
import json
import os
import re
import subprocess
import sys
import tempfile

try:
    from jsonschema import Draft202012Validator
except ImportError:
    print("SKIPPED: python3-jsonschema is not there")
    sys.exit(77)

TALKDOWN, SOURCE = sys.argv[1:3]
EVERY = 1 if "--all" in sys.argv else 6  # of the altered properties; all 5500 take minutes
BATCH = 16  # profiles of one road are all compared with one another

# What the reader may refuse alone: the words it does so with, and why the schema cannot.
BEYOND_A_SCHEMA = {
    "range of a quantity": r"is out of range",
    "number below zero in a text": r"is below zero",
    "over 15 digits": r"more than 15 digits",
    "bytes, not characters": r"longer than \d+ bytes",
    "days of a month": r"is no date",
    "two vertices in one place": r"repeats the one before it",
    "length of a gap": r"lies over 2 km from the one before it",
    "reach of a road": r"lies over 100 km from the middle",
    "distance from the road": r"lies over 60 m from the road",
    "two legs of a hairpin": r"lies near two legs",
    "length of the road": r"at_m is \d+, but the road is",
    "one key twice": r"duplicate object key",
    "size of the file": r"larger than \d+ bytes",
    "two places of one id": r"its id .* is that of feature",
    "order and distances of mileposts": r"mileposts: ",
    "a number as text out of range": r"at_m must be metres",
}


def read(path):
    with open(path, encoding="utf-8") as file:
        return json.load(file)


def base():
    """One of each role, on a short straight road."""
    def feature(geometry, coordinates, **properties):
        return {"type": "Feature", "properties": properties,
                "geometry": {"type": geometry, "coordinates": coordinates}}
    vertices = [[round(-128.9 + 0.0003 * i, 5), -47.1, 800 - 1.5 * i] for i in range(40)]
    at = iter(vertices[1:-1:2])
    point = lambda **properties: feature("Point", next(at)[:2], **properties)
    return {"type": "FeatureCollection", "features": [
        feature("LineString", vertices, role="road", id="gull", name="Gull", flashers="allowed",
                source="by hand", surveyed="2031-05-17", revision=3, position_sigma="2 m", passes=4,
                grade_sigma="0.20%", longest_gap="40 m",
                mileposts="mile 10 at 50 m; mile 10.4 at 700 m"),
        point(role="brake-check", side="right", mandatory=True, length="100 m"),
        point(role="truck-speed", speed="20 mph", over="65,000 lb"),
        point(role="curve-speed", speed="30 km/h", side="left", length="200 ft"),
        point(role="escape-lane", side="right", length="300 m", grade="12%", material="gravel",
              status="open", checked="2031-05-17", say="Ramp", name="One", id="one", at_m=214.0),
        point(role="grade-sign", grade="6%", length="1 km"),
        point(role="chain-area", side="left", length="50 m"),
        point(role="turn-out", side="left", length="50 m"),
        point(role="stop"), point(role="signal"), point(role="rail-crossing"),
        point(role="work-zone", speed="30 mph", length="1 km"),
        point(role="engine-brake-ban", length="1 km"),
        point(role="note", source="a sign"),
    ]}


PALETTE = [None, "", "nonsense", "20", "20 mph", "20mph ", "6%", "-6 percent", "3 km", "7,5 km",
           "1,200 ft", "65000 lb", "40 t", "left", "Left", "true", True, False, 0, 1, -1, 2.5, 7.0,
           1e9, "2031-05-17", "2031-02-30", "2031-13-01", "open", "closed", "allowed", [], {},
           "a" * 65, "\u00fc" * 40, "a\nb", "gull-2", "gull 2", "-20 mph", "0x10 mph", "1e3 m", "nan",
           "1", "0", "3.0", ".5", ".", "2031/05/17", "2031-05-17T00:00:00", "2031-05-17T10:00:00",
           "mile 1 at 0 m;mile 1.2 at 300 m", "mile 1 at 0 m", "mile 1 at 300 m; mile 2 at 0 m"]
KEYS = ["name", "say", "at_m", "source", "side", "speed", "over", "length", "grade", "material",
        "mandatory", "status", "checked", "id", "flashers", "surveyed", "revision",
        "position_sigma", "passes", "grade_sigma", "longest_gap", "sped", "x_mine", "fid", "layer", "X_mine",
        "mileposts"]


def of_properties(document):
    for i, feature in enumerate(document["features"]):
        for key in list(feature["properties"]):
            altered = copy.deepcopy(document)
            del altered["features"][i]["properties"][key]
            yield f"feature {i}: without {key}", altered
        for key in dict.fromkeys([*feature["properties"], *KEYS]):
            for value in PALETTE if key in feature["properties"] else PALETTE[:12]:
                altered = copy.deepcopy(document)
                altered["features"][i]["properties"][key] = value
                yield f"feature {i}: {key} = {value!r}", altered


def of_form(document):
    def altered(change):
        other = copy.deepcopy(document)
        change(other)
        return other
    road = lambda d: d["features"][0]["geometry"]
    stop = lambda d: d["features"][8]["geometry"]
    changes = {
        "another type": lambda d: d.update(type="Feature"),
        "no type": lambda d: d.pop("type"),
        "no features": lambda d: d.pop("features"),
        "features an object": lambda d: d.update(features={}),
        "nothing in it": lambda d: d.update(features=[]),
        "no road": lambda d: d["features"].pop(0),
        "two roads": lambda d: d["features"].append(copy.deepcopy(d["features"][0])),
        "the road last": lambda d: d["features"].append(d["features"].pop(0)),
        "129 features": lambda d: d["features"].extend([d["features"][8]] * 115),
        "130 features": lambda d: d["features"].extend([d["features"][8]] * 116),
        "a geometry among them": lambda d: d["features"].append({"type": "Point"}),
        "null among them": lambda d: d["features"].append(None),
        "no properties": lambda d: d["features"][3].pop("properties"),
        "properties null": lambda d: d["features"][3].update(properties=None),
        "no geometry": lambda d: d["features"][3].pop("geometry"),
        "geometry null": lambda d: d["features"][3].update(geometry=None),
        "a foreign member": lambda d: d["features"][3].update(bbox=[1, 2, 3, 4]),
        "a foreign member above": lambda d: d.update(name="layer"),
        "crs null": lambda d: d.update(crs=None),
        "crs WGS 84": lambda d: d.update(
            crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}),
        "another crs": lambda d: d.update(
            crs={"type": "name", "properties": {"name": "EPSG:3857"}}),
        "crs without a name": lambda d: d.update(crs={"type": "name"}),
        "crs a text": lambda d: d.update(crs="EPSG:4326"),
        "a road of points": lambda d: road(d).update(type="MultiPoint"),
        "a place of lines": lambda d: stop(d).update(type="LineString"),
        "a road of one line": lambda d: road(d).update(
            type="MultiLineString", coordinates=[road(d)["coordinates"]]),
        "a road of two lines": lambda d: road(d).update(
            type="MultiLineString", coordinates=[road(d)["coordinates"][:20],
                                                 road(d)["coordinates"][20:]]),
        "a multi road of bare vertices": lambda d: road(d).update(type="MultiLineString"),
        "a place of one point": lambda d: stop(d).update(
            type="MultiPoint", coordinates=[stop(d)["coordinates"]]),
        "a place of two points": lambda d: stop(d).update(
            type="MultiPoint", coordinates=[stop(d)["coordinates"]] * 2),
        "a place of no point": lambda d: stop(d).update(type="MultiPoint", coordinates=[]),
        "one id twice": lambda d: [d["features"][i]["properties"].update(id="a") for i in (3, 4)],
        "one vertex": lambda d: road(d).update(coordinates=road(d)["coordinates"][:1]),
        "no vertex": lambda d: road(d).update(coordinates=[]),
        "coordinates missing": lambda d: road(d).pop("coordinates"),
        "coordinates a number": lambda d: stop(d).update(coordinates=7),
        "no elevation": lambda d: road(d)["coordinates"][5].pop(),
        "a fourth number": lambda d: road(d)["coordinates"][5].append(1.0),
        "a fifth number": lambda d: road(d)["coordinates"][5].extend([1.0, 2.0]),
        "a text in it": lambda d: road(d)["coordinates"][5].__setitem__(1, "-47"),
        "null in it": lambda d: road(d)["coordinates"][5].__setitem__(2, None),
        "latitude 86": lambda d: road(d)["coordinates"][5].__setitem__(1, 86),
        "longitude 181": lambda d: road(d)["coordinates"][5].__setitem__(0, 181),
        "height 9001": lambda d: road(d)["coordinates"][5].__setitem__(2, 9001),
        "height -501": lambda d: road(d)["coordinates"][5].__setitem__(2, -501),
        "a vertex twice": lambda d: road(d)["coordinates"].insert(5, road(d)["coordinates"][5]),
        "a gap": lambda d: road(d)["coordinates"].append([-128.8, -47.1, 700]),
        "order of coordinates": lambda d: [c.__setitem__(slice(0, 2), c[1::-1])
                                           for c in road(d)["coordinates"]],
        "a place far off": lambda d: stop(d).update(coordinates=[-128.0, -47.0]),
        "a place of one number": lambda d: stop(d).update(coordinates=[-128.9]),
        "a place with a height": lambda d: stop(d)["coordinates"].append(12),
        "a place off the globe": lambda d: stop(d).update(coordinates=[-128.9, 91]),
    }
    for name, change in changes.items():
        yield name, altered(change)


def reader_verdicts(documents):
    """For each: None where the reader takes it, or its words."""
    verdicts = []
    with tempfile.TemporaryDirectory() as folder:
        for i, document in enumerate(documents):
            with open(f"{folder}/{i:02}.geojson", "w", encoding="utf-8") as file:
                json.dump(document, file, ensure_ascii=False)
        run = subprocess.run([TALKDOWN, "hills", "check", "--json", folder], capture_output=True,
                             encoding="utf-8")
        if run.returncode not in (0, 1):
            sys.exit(f"hills check ended with {run.returncode}: {run.stderr}")
        refused = {}
        for line in run.stdout.splitlines():
            finding = json.loads(line)
            if finding["rule"] == "format":
                refused[finding["file"]] = f'{finding["what"]}; {finding["cure"]}'
        verdicts = [refused.get(f"{folder}/{i:02}.geojson") for i in range(len(documents))]
    return verdicts


def check_keys(schema):
    """The keys of each role, as the reader lists them beside one that does not belong, are those of
    the schema: a key that is new in one of the two shows."""
    def known(role):
        for part in schema["$defs"]["feature"]["allOf"]:
            if part["if"]["properties"]["properties"]["properties"]["role"]["const"] == role:
                return set(part["then"]["properties"]["properties"]["properties"])
        return set()
    bad = []
    for i, feature in enumerate(base()["features"]):
        document = base()
        document["features"][i]["properties"]["sped"] = "x"
        words = reader_verdicts([document])[0]
        listed = set(re.search(r"may have: (.*?)(;|$)", words).group(1).split(", "))
        role = feature["properties"]["role"]
        if listed != known(role):
            bad.append(f"{role}: the reader knows {listed}, the schema {known(role)}")
    return bad


def main():
    schema = read(f"{SOURCE}/docs/hill.schema.json")
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    bad, alone, both, neither = [], {}, 0, 0
    valid = [f"{SOURCE}/profiles/hills/{name}" for name in os.listdir(f"{SOURCE}/profiles/hills")
             if name.endswith(".geojson")] + [f"{SOURCE}/tests/unit/data/hill.geojson"]
    for path in valid:
        for error in validator.iter_errors(read(path)):
            bad.append(f"{path}: the schema refuses it: {error.message[:200]}")
    bad += check_keys(schema)
    mutants = [("as it is", base()), *of_form(base()),
               *list(of_properties(base()))[::EVERY]]
    for start in range(0, len(mutants), BATCH):
        batch = mutants[start:start + BATCH]
        for (name, document), words in zip(batch, reader_verdicts([d for _, d in batch])):
            fits = validator.is_valid(document)
            if fits and words is None:
                both += 1
            elif not fits and words is not None:
                neither += 1
            elif not fits:
                error = next(validator.iter_errors(document))
                bad.append(f"{name}: the reader takes what the schema refuses: {error.message[:160]}")
            else:
                why = [k for k, w in BEYOND_A_SCHEMA.items() if re.search(w, words)]
                if not why:
                    bad.append(f"{name}: the schema takes what the reader refuses: {words}")
                for reason in why:
                    alone[reason] = alone.get(reason, 0) + 1
    print(f"{len(valid)} valid profiles; {len(mutants)} altered ones: {both} taken by both, {neither} "
          f"refused by both, {sum(alone.values())} by the reader alone: {alone}")
    for line in bad[:40]:
        print(line)
    if both < 200 or neither < 400:
        bad.append("too few of a kind to show anything")
    sys.exit(1 if bad else 0)


main()
