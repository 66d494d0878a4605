/* SPDX-License-Identifier: GPL-3.0-or-later */
/* YAML by a libcyaml schema, with errors a person can act on.
 *
 * libcyaml fills the structure, but names a neighbouring line for an unknown key, takes the last of
 * two equal keys, and reads "nan" and hexadecimal as numbers. So libyaml's events are walked along
 * the same schema first, and everything that is wrong is told from there with its own line. Numbers
 * and quantities are best declared as strings and read with td_yaml_quantity, which names the line.
 * Refused as well: anchors, aliases, tags, several documents, control characters. */
#ifndef TD_IO_YAML_LOAD_H
#define TD_IO_YAML_LOAD_H

#include <cyaml/cyaml.h>
#include <stdbool.h>
#include <stddef.h>

#include "talkdown/quantity.h"
#include "talkdown/result.h"

enum { TD_YAML_BYTES_MAX = 256 * 1024, TD_YAML_DEPTH_MAX = 8, TD_YAML_PATH_MAX = 96,
       TD_YAML_FIELDS_MAX = 128, TD_YAML_VALUES_MAX = 8192 };

struct td_yaml; /* owns the loaded structure and the lines of its values */

/* `schema` is a CYAML_MAPPING pointer made of mappings, sequences, strings and enums; strings are
 * pointers. `what` is for the message about an empty file: "a rig begins with name:". */
TD_CHECKED enum td_result td_yaml_load(const char *name, const char *bytes, size_t length,
                                       const cyaml_schema_value_t *schema, const char *what,
                                       struct td_yaml **out, struct td_problem *problem);
const void *td_yaml_data(const struct td_yaml *yaml);
/* What `yaml` leaves out is looked for in `base`, which must live as long; NULL: nowhere. */
void td_yaml_rest_on(struct td_yaml *yaml, const struct td_yaml *base);
/* True when this very file has a value at the path, its base left aside. */
bool td_yaml_has(const struct td_yaml *yaml, const char *path);
/* Line of the value at a path as "gears[2].ratio", in its own file; 0 when there is none. */
int td_yaml_line(const struct td_yaml *yaml, const char *path);
void td_yaml_free(struct td_yaml **yaml); /* accepts *yaml NULL */

/* td_quantity_parse and td_whole_parse of the text at a path, with file, line and path in the
 * problem. */
TD_CHECKED enum td_result td_yaml_quantity(const struct td_yaml *yaml, const char *path,
                                           const char *text, enum td_dimension dimension,
                                           double *value, struct td_problem *problem);
TD_CHECKED enum td_result td_yaml_whole(const struct td_yaml *yaml, const char *path,
                                        const char *text, int least, int most, int *value,
                                        struct td_problem *problem);
/* A problem at a path: "FILE:LINE: PATH: ...". Returns TD_INVALID. */
enum td_result td_yaml_problem(const struct td_yaml *yaml, const char *path,
                               struct td_problem *problem, const char *format, ...)
    TD_PRINTF(4, 5);
/* The same with a result and words that name their place themselves. Returns `result`. */
enum td_result td_yaml_complain(const struct td_yaml *yaml, const char *path,
                                struct td_problem *problem, enum td_result result,
                                const char *words);

#endif
