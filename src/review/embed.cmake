# SPDX-License-Identifier: GPL-3.0-or-later
# cmake -DIN=FILE -DOUT=FILE.c -DNAME=c_name -DHEADER=where/declared.h -P embed.cmake: the bytes of a
# file as a C array.
file(READ ${IN} bytes HEX)
string(REGEX REPLACE "(................................)" "\\1\n" bytes "${bytes}")
string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${bytes}")
file(WRITE ${OUT} "/* Made from ${NAME}; do not edit. */\n#include \"${HEADER}\"\nconst char ${NAME}[] = {\n${bytes}0x00};\n")
