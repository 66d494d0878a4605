#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# setup.sh demo | test | build: all the set-up on a fresh Debian 12, then
#   demo   rehearses the demo hill into build/demo/ and plays it where a sound device exists
#   test   builds with GCC and clang, plain and with sanitizers, and runs the whole suite
#   build  stops once the programs are built
# Repeatable: what is installed or built already is left alone. Needs apt's package mirror and no
# other network. Runs as root or through sudo.
set -eu
cd "$(dirname "$0")/.."

build_packages='gcc libc6-dev cmake ninja-build pkg-config libgps-dev libespeak-ng-dev
 espeak-ng-data portaudio19-dev libasound2-dev libcmocka-dev libsqlite3-dev libjansson-dev
 libcyaml-dev libyaml-dev libexpat1-dev libsndfile1-dev libebur128-dev libsodium-dev libevdev-dev
 libsystemd-dev libgdal-dev libproj-dev libgsl-dev libpocketsphinx-dev libsphinxbase-dev'
run_packages='alsa-utils libasound2-plugins'
test_packages='clang libclang-rt-14-dev llvm valgrind binutils gpsd gpsd-clients gpsbabel
 pulseaudio pulseaudio-utils pocketsphinx-en-us sqlite3 procps minisign python3-jsonschema
 chromium gdal-bin libxml2-utils'

say() { printf '== %s\n' "$*"; }

as_root() {
  if [ "$(id -u)" = 0 ]; then "$@"
  elif command -v sudo >/dev/null 2>&1; then sudo "$@"
  else echo "setup.sh: needs root or sudo to install packages" >&2; exit 2
  fi
}

install_packages() {
  missing=
  for package in "$@"; do
    state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
    [ "$state" = installed ] || missing="$missing $package"
  done
  if [ -z "$missing" ]; then say "packages: all there"; return; fi
  say "packages: installing$missing"
  as_root apt-get update -q >/dev/null
  # shellcheck disable=SC2086 # one word a package
  as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends \
    $missing >/dev/null
}

# configure_and_build FOLDER [cmake options...]
configure_and_build() {
  folder=$1; shift
  say "building $folder"
  cmake -S . -B "$folder" -G Ninja "$@" >"$folder.configure.log" 2>&1 ||
    { cat "$folder.configure.log" >&2; exit 1; }
  cmake --build "$folder" >"$folder.build.log" 2>&1 || { tail -n 60 "$folder.build.log" >&2; exit 1; }
}

has_sound_device() {
  [ -n "${PULSE_SERVER:-}" ] || [ -S "${XDG_RUNTIME_DIR:-/nonexistent}/pulse/native" ] ||
    grep -q '^ *[0-9]' /proc/asound/cards 2>/dev/null
}

play_demo() {
  if ! has_sound_device; then
    say "no sound device here: the voice is in build/demo/voice.wav"
  elif aplay -q build/demo/voice.wav; then
    say "played build/demo/voice.wav"
  else
    say "the sound device did not take it: the voice is in build/demo/voice.wav"
  fi
}

demo() {
  say "rehearsing the demo hill: a careful driver, a five-axle truck at 79,900 lb"
  build/gcc/src/tool/talkdown rehearse profiles/hills/ombral-pass.geojson \
    --rig profiles/rigs/five-axle.yaml --driver careful --seed 1 --out build/demo --force
  say "written: build/demo/prompts.txt, voice.wav, drive.db, review.html"
  play_demo
}

# run_tests FOLDER [ctest options...]
run_tests() {
  folder=$1; shift
  say "testing $folder"
  ctest --test-dir "$folder" --output-on-failure --no-tests=error "$@"
}

# run_all FOLDER SKIP: the live tests first, of which most of the time is waiting for a truck to get
# there: several at once. Names that fit SKIP are left out.
run_all() {
  run_tests "$1" -j4 -L live -E "$2"
  run_tests "$1" -j2 -LE live -E "$2"
}

test_all() {
  # Hundreds of programs are linked four times: with the linker that is quickest at it.
  link=-DCMAKE_EXE_LINKER_FLAGS=-fuse-ld=gold
  # Lints, benches, pages and what is measured of the sound are the same from every build; the pure
  # code and the tool's commands have no threads to race.
  configure_and_build build/clang -DCMAKE_C_COMPILER=clang -DTD_WERROR=ON "$link"
  configure_and_build build/asan -DTD_WERROR=ON -DTD_SANITIZE=address,undefined "$link" \
    -DTD_TESTS='unit;property;scenario;e2e;fuzz;fault'
  configure_and_build build/tsan -DTD_WERROR=ON -DTD_SANITIZE=thread "$link" \
    -DTD_TESTS='unit;scenario;e2e;fault'
  configure_and_build build/gcc -DTD_WERROR=ON "$link" \
    -DTD_OTHER_TOOL="$PWD/build/clang/src/tool/talkdown"
  alike='e2e\.(speech|recognise|voice_levels|voice_noise|review_page|review_odd|hills_page|plan_card)'
  alike="$alike|e2e\.plan_(pub|table)"
  # Two minutes of real time; shorter live tests take the sanitizers through the same code.
  alike="$alike|e2e\.live_hill"
  # (unit.tiles: GDAL takes its own locks in either order.) Two benches of the voice take minutes of
  # real time and assert nothing: ctest -R starts them.
  threadless='unit\.tiles|e2e\.(rehearse$|replay|privacy|drill|review|export|plan|places|bad_in)'
  threadless="$threadless|e2e\.(survey|hill)|e2e\.library_signed"
  run_tests build/clang -j2 -LE 'valgrind|lint|e2e|bench|fault'
  run_all build/asan "$alike"
  run_all build/tsan "$alike|$threadless|fault\.(sound_faults|slow_synthesis)"
  run_all build/gcc 'bench\.(latency|voice_settings)'
}

case "${1:-}" in
demo | test | build) ;;
*) echo "usage: sh src/setup.sh demo | test | build" >&2; exit 2 ;;
esac
mkdir -p build
# shellcheck disable=SC2086 # lists of words
case "$1" in
test)
  install_packages $build_packages $run_packages $test_packages
  test_all
  ;;
*)
  install_packages $build_packages $run_packages
  configure_and_build build/gcc
  [ "$1" = build ] || demo
  ;;
esac
