/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the coach may say. A prompt is a meaning with its numbers, not words: the phrase module
 * turns it into words when it is dispatched.
 *
 * Ownership: plain values. Arguments are integers already rounded for speech, with their unit, or
 * indexes into the text of the hill or rig that the prompt names. Any distance may be TD_UNIT_NONE
 * (nothing is said of it). */
#ifndef TD_PROMPT_H
#define TD_PROMPT_H

#include <stdbool.h>
#include <stdint.h>

/* Later is more pressing; a more pressing one cuts a lesser one. */
enum td_category { TD_NOTICE = 0, TD_ADVICE, TD_CAUTION, TD_WARNING, TD_DANGER, TD_CATEGORIES };

/* Each line: arguments in order. */
enum td_prompt_id {
    TD_PROMPT_READY = 0,          /* hills on board (COUNT) */
    TD_PROMPT_SET_FOR,            /* gross weight (LB or KG) */
    TD_PROMPT_LOAD_NOT_CONFIRMED, /* gross weight planned for (LB or KG) */
    TD_PROMPT_RIG_NOT_SET,        /* none */
    TD_PROMPT_HILL_AHEAD,         /* grade (PERCENT), its length (td_length_arg) */
    TD_PROMPT_NO_GO,              /* none */
    TD_PROMPT_BRAKE_CHECK_AHEAD,  /* distance, SIDE */
    TD_PROMPT_BRAKE_CHECK_PASSED, /* none */
    TD_PROMPT_BRIEFING,           /* GEAR, speed */
    TD_PROMPT_SLOW_FOR_GRADE,     /* speed */
    TD_PROMPT_GEAR,               /* GEAR */
    TD_PROMPT_ENGINE_BRAKE,       /* STAGE */
    TD_PROMPT_CEILING,            /* speed */
    TD_PROMPT_OVER_SPEED,         /* speed */
    TD_PROMPT_ESCAPE_LANE,        /* PLACE, distance, SIDE */
    TD_PROMPT_LAST_ESCAPE_LANE,   /* none: no more of them below */
    TD_PROMPT_BOTTOM_AHEAD,       /* distance, NEXT (what comes after, TD_NEXT_) */
    TD_PROMPT_BOTTOM,             /* NEXT, distance to it */
    TD_PROMPT_POSITION_LOST,      /* none */
    TD_PROMPT_POSITION_BACK,      /* none */
    TD_PROMPT_SOUND_BACK,         /* none: the voice was away and is back */
    TD_PROMPT_NOTHING_TO_REPEAT,  /* none: answer to "again" */
    TD_PROMPT_ROAD_SET,           /* ROAD */
    TD_PROMPT_LIBRARY_REFUSED,    /* none: a new hill library was not taken */
    TD_PROMPT_NO_GO_ICE,          /* none: the answer is no for the ice, whatever the load */
    TD_PROMPT_CURVE,              /* SIDE it turns to, speed */
    TD_PROMPT_LIMIT,              /* speed posted for this truck from there on */
    TD_PROMPT_STEEPER,            /* grade (PERCENT) */
    TD_PROMPT_FALSE_BOTTOM,       /* none: it eases, and is not the foot */
    TD_PROMPT_FLASHERS_ON,        /* none */
    TD_PROMPT_FLASHERS_OFF,       /* none: every on has its off */
    TD_PROMPT_CHAIN_AREA,         /* distance, SIDE */
    TD_PROMPT_SPEED_BUILDING,     /* none: gains faster than the planned gear allows */
    TD_PROMPT_BRAKES_HEATING,     /* PLACE with room to stop, distance; both NONE without one */
    TD_PROMPT_BRAKES_HOT,         /* none; where the gear holds a lower speed a ceiling follows */
    TD_PROMPT_STOP_AT,            /* PLACE with room to stop, distance: the brakes need a stop */
    TD_PROMPT_ENGINE_OVER_SPEED,  /* none */
    TD_PROMPT_RUNAWAY_LANE,       /* PLACE, distance, SIDE: an open lane ahead of a runaway */
    TD_PROMPT_TAKE_LANE,          /* PLACE, SIDE: the last call */
    TD_PROMPT_NO_LANE_AHEAD,      /* none: a runaway with no open escape lane below */
    TD_PROMPT_HOT_PARKING,        /* none */
    TD_PROMPT_BRAKES_STILL_HOT,   /* none: the next grade begins with what this one left */
    TD_PROMPT_GRADE_NOT_ON_FILE,  /* none */
    TD_PROMPT_ASK_LOAD,           /* LOAD: the menu asks whether it is this one */
    TD_PROMPT_ASK_ROAD,           /* ROAD */
    TD_PROMPT_ASK_ENGINE_BRAKE,   /* STAGE: the strongest that works */
    TD_PROMPT_ASK_NO_ENGINE_BRAKE, /* none */
    TD_PROMPT_MENU_CLOSED,        /* none */
    TD_PROMPT_HILL_DAMAGED,       /* none: one on file near here cannot be trusted */
    TD_PROMPT_LIBRARY_DAMAGED,    /* none: hills on file may not be found */
    TD_PROMPT_IDS
};

enum td_unit {
    TD_UNIT_NONE = 0,
    TD_UNIT_PERCENT,
    TD_UNIT_COUNT,
    TD_UNIT_MPH,
    TD_UNIT_KMH,
    TD_UNIT_LB,
    TD_UNIT_KG,
    TD_UNIT_QUARTER_MILE, /* 1 to 3; in a countdown also whole miles and quarters: 5 to 19 */
    TD_UNIT_MILE,
    TD_UNIT_FOOT,         /* 500 or 1000 */
    TD_UNIT_METRE,        /* hundreds, below 1000; in a countdown also 1500 to 4500 */
    TD_UNIT_KM,
    TD_UNIT_GEAR,  /* index into rig->gears */
    TD_UNIT_STAGE, /* index into rig->stages; -1 is off */
    TD_UNIT_SIDE,  /* enum td_side */
    TD_UNIT_PLACE, /* index into hill->places */
    TD_UNIT_NEXT,  /* enum td_next */
    TD_UNIT_ROAD,  /* enum td_road */
    TD_UNIT_LOAD,  /* index into rig->loads */
    TD_UNITS
};

/* What comes after the foot. There is no all-clear. */
enum td_next { TD_NEXT_UNKNOWN = 0, TD_NEXT_STOP, TD_NEXT_SIGNAL, TD_NEXT_RAIL_CROSSING,
               TD_NEXT_GRADE };

struct td_arg {
    enum td_unit unit;
    int32_t value;
};

enum { TD_PROMPT_ARGS_MAX = 4 };

struct td_prompt {
    uint32_t serial; /* from 1, rising; names this utterance in every report */
    enum td_prompt_id id;
    enum td_category category;
    uint32_t hill_handle; /* whose text the arguments index; 0 none */
    int32_t place;        /* index of the place it is about; -1 none */
    double about_m;       /* along the hill, the place it speaks of; 0 when none */
    int64_t decided_ns;
    int64_t expires_ns;   /* not to be started after this */
    unsigned arg_count;
    struct td_arg args[TD_PROMPT_ARGS_MAX];
};

/* Key of a prompt in phrase files and logs ("hill_ahead"), and back; -1 when unknown. */
const char *td_prompt_key(enum td_prompt_id id);
int td_prompt_from_key(const char *key);
enum td_category td_prompt_category(enum td_prompt_id id);
/* Words of the spoken menu: answers to a press of the button. */
bool td_prompt_is_menu(enum td_prompt_id id);
const char *td_category_name(enum td_category category);

/* A distance to a place, rounded down to how signs give it: quarters below one mile, whole miles
 * above (MUTCD 2C.61), 1000 and 500 ft under a quarter mile; hundreds of metres and whole
 * kilometres when `metric`. Never more than there is: 0.49 mi is "quarter mile", so whoever means
 * "half mile" must ask while there is still at least that (a little early, not a little late).
 * TD_UNIT_NONE under 500 ft or 100 m, and when not finite or below 0: no distance is said. */
struct td_arg td_distance_arg(double distance_m, bool metric);

/* A distance that is counted down to a place, rounded down to finer steps than a sign's: quarters
 * up to five miles; half kilometres up to five when `metric`; else as above. */
struct td_arg td_countdown_arg(double distance_m, bool metric);
/* Where the countdown after `said` goes on: the next distance below it that is worth a word of its
 * own, a quarter mile or 300 m at last; 0 after that, and where nothing was said. */
double td_countdown_mark_m(struct td_arg said);

/* The length of a grade to the nearest of the same steps, as the sign at the grade has it, but up
 * where that would sound more than a tenth shorter than the grade is. TD_UNIT_NONE when not finite
 * or not above 0. */
struct td_arg td_length_arg(double length_m, bool metric);

#endif
