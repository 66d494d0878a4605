/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Quantities as people write them: a number and its unit, "20 mph", "78,000 lb", "7%", "500 F".
 *
 * The one place where numbers from people are read. Strict on purpose, since a misread weight or
 * speed is worse than none: the unit is always there, the decimal mark is a point, a comma only
 * groups thousands ("78,000", never "7,5"), nothing follows the unit, and there is no "nan", "inf",
 * hexadecimal or exponent. Blanks around and between are free; letters of a unit in either case.
 * Pure: no locale, no heap. */
#ifndef TD_QUANTITY_H
#define TD_QUANTITY_H

#include <stdbool.h>

#include "talkdown/result.h"

enum td_dimension {
    TD_DIM_NUMBER = 0,    /* no unit */
    TD_DIM_SPEED,         /* m/s:    mph, km/h, m/s */
    TD_DIM_LENGTH,        /* m:      mi, ft, yd, in, km, m, cm, mm */
    TD_DIM_MASS,          /* kg:     lb, kg, t (1000 kg) */
    TD_DIM_RATIO,         /* 1:      % */
    TD_DIM_AREA,          /* m2:     m2, ft2 */
    TD_DIM_TEMPERATURE,   /* degC:   F, C */
    TD_DIM_TURNS,         /* rpm:    rpm */
    TD_DIM_TORQUE,        /* N m:    N m, lb ft */
    TD_DIM_ACCELERATION,  /* m/s2:   m/s2, ft/s2, mph/s, g */
    TD_DIM_INERTIA,       /* kg m2:  kg m2, lb ft2 */
    TD_DIM_HEAT_CAPACITY, /* J/K:    J/K, kJ/K, Btu/F */
    TD_DIM_COOLING,       /* W/K:    W/K, kW/K */
    TD_DIM_COOLING_SPEED, /* W/K for each m/s: W/K per m/s, W/K per mph, W/K per km/h */
    TD_DIM_TIME,          /* s:      s, ms, min, h */
    TD_DIM_POWER,         /* W:      kW, W, hp */
    TD_DIMENSIONS
};

/* Reads `text` whole into *value, in the unit named beside the dimension above. Only a temperature
 * or a ratio may be below zero. At most 15 digits, so that what was written is read exactly.
 * TD_INVALID leaves *value alone; problem->text then quotes the text and says which units would be
 * right (file is empty, line 0: the caller knows them). */
TD_CHECKED enum td_result td_quantity_parse(const char *text, enum td_dimension dimension,
                                            double *value, struct td_problem *problem);

/* The same for a whole number without unit, from `least` to `most`. */
TD_CHECKED enum td_result td_whole_parse(const char *text, int least, int most, int *value,
                                         struct td_problem *problem);

/* A decimal number as machines write it into files, whole text: sign, any count of digits, point,
 * exponent. Within a few units of the 16th digit. False (and *value alone) for anything else,
 * "nan" and "inf" among it, and beyond 1e300. */
bool td_decimal_parse(const char *text, double *value);

#endif
