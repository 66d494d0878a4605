/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hills of the demo set, drawn: roads of Pelmarra, a country that is not there, in the open
 * ocean of the far South Pacific, where no demo hill can ever match a real truck. Seeded: the same
 * bytes every time. */
#ifndef TD_TESTS_DEMO_HILLS_H
#define TD_TESTS_DEMO_HILLS_H

#include <stdbool.h>
#include <stdio.h>

/* Short name of a hill, also its file's ("ombral-pass" is in ombral-pass.geojson); NULL after the
 * last. */
const char *demo_hill_id(unsigned index);
/* Writes the GeoJSON of that hill. */
bool demo_hill_write(unsigned index, FILE *to);

#endif
