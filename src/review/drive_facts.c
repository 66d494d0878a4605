/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads a drive log into samples, prompts, losses and silences, then has it cut into descents and
 * figured out. The reader stays open as long as the facts: its hills and setup are theirs. */
#include "review/drive_facts.h"

#include <stdlib.h>
#include <string.h>

#include "io/drive_trace.h"
#include "io/problem.h"
#include "review/facts_parts.h"
#include "talkdown/text.h"

struct facts {
    struct td_review_drive drive; /* first: what the caller holds */
    struct td_drive_reader *reader;
    struct td_drive_mark *marks;
    size_t mark_count;
};

static enum td_result no_memory(const struct td_review_drive *drive, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, drive->path, 0, "no memory for the drive");
}

static enum td_result read_head(struct facts *facts, struct td_problem *problem)
{
    struct td_review_drive *drive = &facts->drive;
    const struct td_drive_reader *reader = facts->reader;
    drive->setup = td_drive_setup(reader);
    drive->start_ns = td_drive_start_ns(reader);
    drive->end_ns = td_drive_end_ns(reader);
    drive->start_utc_ms = td_drive_start_utc_ms(reader);
    (void)td_drive_head_text(reader, "program", drive->program, sizeof drive->program);
    (void)td_drive_head_text(reader, "rig_name", drive->rig_name, sizeof drive->rig_name);
    (void)td_drive_head_text(reader, "language", drive->language, sizeof drive->language);
    drive->hill_count = td_drive_hill_count(reader);
    drive->hills = calloc(drive->hill_count + 1, sizeof *drive->hills);
    if (drive->hills == NULL)
        return no_memory(drive, problem);
    for (size_t i = 0; i < drive->hill_count; i++)
        (void)td_text_copy(drive->hills[i].id, sizeof drive->hills[i].id,
                           td_drive_hill_id(reader, i));
    return TD_OK;
}

static enum td_result take_loss(struct td_review_drive *drive, const struct td_drive_mark *mark,
                                struct td_problem *problem)
{
    struct td_review_loss *losses =
        td_facts_grown(drive->losses, drive->loss_count, sizeof *losses);
    if (losses == NULL)
        return no_memory(drive, problem);
    drive->losses = losses;
    struct td_review_loss *loss = &losses[drive->loss_count++];
    *loss = (struct td_review_loss){
        .at_ns = mark->now_ns,
        .count = mark->value < 0            ? 0
                 : mark->value > UINT32_MAX ? UINT32_MAX
                                            : (uint32_t)mark->value,
    };
    (void)td_text_copy(loss->what, sizeof loss->what, mark->text);
    return TD_OK;
}

static enum td_result take_sound(struct td_review_drive *drive, const struct td_drive_mark *mark,
                                 struct td_problem *problem)
{
    struct td_review_silence *last =
        drive->silence_count > 0 ? &drive->silences[drive->silence_count - 1] : NULL;
    bool silent = last != NULL && last->to_ns == INT64_MAX;
    if (mark->value == TD_SOUND_UP && silent)
        last->to_ns = mark->now_ns;
    if (mark->value != TD_SOUND_DOWN || silent)
        return TD_OK;
    struct td_review_silence *silences =
        td_facts_grown(drive->silences, drive->silence_count, sizeof *silences);
    if (silences == NULL)
        return no_memory(drive, problem);
    drive->silences = silences;
    silences[drive->silence_count++] =
        (struct td_review_silence){.from_ns = mark->now_ns, .to_ns = INT64_MAX};
    return TD_OK;
}

static enum td_result read_marks(struct facts *facts, struct td_problem *problem)
{
    struct td_review_drive *drive = &facts->drive;
    enum td_result result =
        td_drive_marks(facts->reader, &facts->marks, &facts->mark_count, problem);
    for (size_t i = 0; i < facts->mark_count && result == TD_OK; i++) {
        if (facts->marks[i].kind == TD_DRIVE_MARK_LOSS)
            result = take_loss(drive, &facts->marks[i], problem);
        else if (facts->marks[i].kind == TD_DRIVE_MARK_SOUND)
            result = take_sound(drive, &facts->marks[i], problem);
    }
    if (drive->silence_count > 0 && drive->silences[drive->silence_count - 1].to_ns == INT64_MAX)
        drive->silences[drive->silence_count - 1].to_ns = drive->end_ns;
    return result;
}

static enum td_result take_sample(struct facts *facts, const struct td_drive_row *row,
                                  struct td_problem *problem)
{
    struct td_review_drive *drive = &facts->drive;
    const struct td_estimate *estimate = &row->estimate;
    if (drive->sample_count == TD_REVIEW_SAMPLES_MAX)
        return td_problem_set(problem, TD_FULL, drive->path, 0,
                              "a drive of more than %d seconds; the longest that can be reviewed",
                              (int)TD_REVIEW_SAMPLES_MAX);
    if (drive->sample_count > 0 && row->now_ns < drive->samples[drive->sample_count - 1].at_ns)
        return td_problem_set(problem, TD_INVALID, drive->path, 0,
                              "its estimates are not in the order of time");
    struct td_review_sample *samples =
        td_facts_grown(drive->samples, drive->sample_count, sizeof *samples);
    if (samples == NULL)
        return no_memory(drive, problem);
    drive->samples = samples;
    samples[drive->sample_count++] = (struct td_review_sample){
        .at_ns = row->now_ns,
        .where = estimate->where,
        .hill = row->hill,
        .along_m = estimate->along_m,
        .sigma_m = estimate->sigma_m,
        .speed_mps = estimate->speed_mps,
        .target_mps = estimate->target_mps,
        .least_c = estimate->heat_least_c,
        .likely_c = estimate->heat_likely_c,
        .most_c = estimate->heat_most_c,
    };
    if (row->hill < 0 || drive->hills[row->hill].hill != NULL)
        return TD_OK;
    return td_drive_hill(facts->reader, (size_t)row->hill, &drive->hills[row->hill].hill, problem);
}

static enum td_result read_samples(struct facts *facts, struct td_problem *problem)
{
    struct td_review_drive *drive = &facts->drive;
    struct td_drive_row row;
    enum td_result result = TD_OK;
    struct td_problem end;
    while (result == TD_OK && (result = td_drive_trace(facts->reader, &row, &end)) == TD_OK)
        result = take_sample(facts, &row, &end);
    if (result != TD_NOT_FOUND) {
        if (problem != NULL)
            *problem = end;
        return result;
    }
    td_facts_mark_holes(drive->samples, drive->sample_count, drive->losses, drive->loss_count);
    return TD_OK;
}

static enum td_result read_prompts(struct facts *facts, struct td_problem *problem)
{
    struct td_review_drive *drive = &facts->drive;
    struct td_spoken *spoken = NULL;
    size_t count = 0;
    enum td_result result = td_drive_prompts(facts->reader, &spoken, &count, problem);
    if (result != TD_OK)
        return result;
    drive->prompts = calloc(count + 1, sizeof *drive->prompts);
    if (drive->prompts == NULL)
        result = no_memory(drive, problem);
    for (size_t i = 0; i < count && result == TD_OK; i++)
        drive->prompts[drive->prompt_count++].spoken = spoken[i];
    free(spoken);
    return result;
}

/* The load in force when it passed the crest, or when it was seen last before that. */
static void find_load(const struct facts *facts, struct td_review_descent *descent)
{
    const struct td_review_drive *drive = &facts->drive;
    const struct td_setup *setup = drive->setup;
    const struct td_rig *rig = &setup->rig;
    if (!setup->rig_is_set || rig->load_count == 0)
        return;
    int64_t at_ns = descent->to_ns;
    for (size_t i = descent->last + 1; i > descent->first; i--)
        if (drive->samples[i - 1].hill == descent->hill &&
            drive->samples[i - 1].along_m >= drive->hills[descent->hill].hill->crest_m)
            at_ns = drive->samples[i - 1].at_ns;
    size_t load = setup->load_confirmed ? rig->load_now : td_rig_heaviest_load(rig);
    descent->load_confirmed = setup->load_confirmed;
    for (size_t i = 0; i < facts->mark_count; i++) {
        const struct td_drive_mark *mark = &facts->marks[i];
        if (mark->kind != TD_DRIVE_MARK_LOAD || mark->now_ns > at_ns || mark->value < 0 ||
            (uint64_t)mark->value >= rig->load_count)
            continue;
        load = (size_t)mark->value;
        descent->load_confirmed = true;
    }
    descent->load_kg = rig->loads[load].mass_kg;
    descent->load_name = rig->loads[load].name;
}

static enum td_result reckon(struct facts *facts, struct td_problem *problem)
{
    struct td_review_drive *drive = &facts->drive;
    enum td_result result = td_facts_visits(drive, problem);
    for (size_t i = 0; i < drive->descent_count && result == TD_OK; i++) {
        result = td_facts_figures(drive, &drive->descents[i], problem);
        find_load(facts, &drive->descents[i]);
    }
    return result == TD_OK ? td_facts_follow(drive, problem) : result;
}

static bool on_a_visit(const struct td_review_drive *drive, int64_t at_ns, int index)
{
    for (size_t i = 0; i < drive->descent_count; i++)
        if ((index < 0 || (size_t)index == i) && at_ns >= drive->descents[i].from_ns &&
            at_ns <= drive->descents[i].to_ns)
            return true;
    return false;
}

/* Leaves out clock time and all that was off the hills, so that nothing downstream can tell it.
 * Samples stay in number, since descents count them, but tell nothing. */
static void make_anonymous(struct td_review_drive *drive)
{
    size_t kept = 0;
    drive->anonymous = true;
    drive->start_utc_ms = 0;
    for (size_t i = 0; i < drive->prompt_count; i++) {
        const struct td_review_prompt *prompt = &drive->prompts[i];
        int64_t at_ns = prompt->spoken.issued_ns != 0 ? prompt->spoken.issued_ns
                                                      : prompt->spoken.fate_ns;
        if (prompt->descent >= 0 && on_a_visit(drive, at_ns, prompt->descent))
            drive->prompts[kept++] = *prompt;
    }
    drive->prompt_count = kept;
    for (size_t i = 0; i < drive->sample_count; i++) {
        struct td_review_sample *sample = &drive->samples[i];
        if (!on_a_visit(drive, sample->at_ns, -1))
            *sample = (struct td_review_sample){.at_ns = sample->at_ns,
                                                .where = TD_WHERE_NO_FIX, .hill = -1,
                                                .after_hole = true};
    }
}

enum td_result td_review_drive_read(const char *path, const struct td_review_options *options,
                                    struct td_review_drive **out, struct td_problem *problem)
{
    struct facts *facts = calloc(1, sizeof *facts);
    if (facts == NULL || (facts->drive.path = strdup(path)) == NULL) {
        free(facts);
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory for the drive");
    }
    enum td_result result = td_drive_open(path, &facts->reader, problem);
    if (result == TD_OK)
        result = read_head(facts, problem);
    if (result == TD_OK)
        result = read_marks(facts, problem);
    if (result == TD_OK)
        result = read_samples(facts, problem);
    if (result == TD_OK)
        result = read_prompts(facts, problem);
    if (result == TD_OK)
        result = reckon(facts, problem);
    struct td_review_drive *drive = &facts->drive;
    if (result != TD_OK) {
        td_review_drive_free(&drive);
        return result;
    }
    if (options != NULL && options->anonymous)
        make_anonymous(drive);
    *out = drive;
    return TD_OK;
}

void td_review_drive_free(struct td_review_drive **drive)
{
    if (drive == NULL || *drive == NULL)
        return;
    struct facts *facts = (struct facts *)*drive;
    for (size_t i = 0; i < (*drive)->descent_count; i++) {
        free((*drive)->descents[i].snubs);
        free((*drive)->descents[i].stands);
    }
    free((*drive)->descents);
    free((*drive)->hills);
    free((*drive)->samples);
    free((*drive)->prompts);
    free((*drive)->losses);
    free((*drive)->silences);
    free((*drive)->path);
    free(facts->marks);
    td_drive_close(&facts->reader);
    free(facts);
    *drive = NULL;
}

int64_t td_review_utc_ms(const struct td_review_drive *drive, int64_t at_ns)
{
    return drive->anonymous ? 0 : drive->start_utc_ms + (at_ns - drive->start_ns) / 1000000;
}
