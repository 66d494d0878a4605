#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# core_is_pure.sh SOURCE_DIR ARCHIVE...: the pure layers call nothing but arithmetic and string
# copying, and own no writable data: no clock, heap, file, thread, locale or global can hide there.
set -eu
shift
allowed='^(td_[a-z0-9_]+|memcpy|memset|memmove|memcmp|memchr|strlen|strcmp|strncmp|strchr|strstr|strnlen'
allowed="$allowed|fabs|floor|ceil|round|trunc|lround|llround|fmod|sqrt|hypot|cbrt|exp|expm1|log|log1p|log10|pow"
allowed="$allowed|sin|cos|tan|asin|acos|atan|atan2|sincos|fmin|fmax|nearbyint|remainder|tanh|erf|erfc|isfinite"
allowed="$allowed|__stack_chk_fail|__assert_fail|_GLOBAL_OFFSET_TABLE_)$"
bad=0
for archive in "$@"; do
  [ -f "$archive" ] || { echo "$archive: missing"; exit 1; }
  calls=$(nm -u "$archive" | awk 'NF==2 && $1=="U"{print $2}' | sort -u | grep -vE "$allowed" || true)
  if [ -n "$calls" ]; then
    echo "$(basename "$archive") calls what a pure layer must not:"; echo "$calls" | sed 's/^/  /'; bad=1
  fi
  # Constant tables that hold pointers stand in .data.rel.ro, which is read-only once loaded.
  data=$(nm -f sysv "$archive" | tr -d ' ' |
         awk -F'|' '$3 ~ /^[BbDdCSs]$/ && $7 !~ /^\.data\.rel\.ro/ {print $1}' |
         grep -v '^\.LC' || true)
  if [ -n "$data" ]; then
    echo "$(basename "$archive") owns writable data:"; echo "$data" | sed 's/^/  /'; bad=1
  fi
  [ "$(nm "$archive" | grep -c ' T ' || true)" -gt 0 ] || { echo "$archive: nothing in it"; bad=1; }
done
exit $bad
