/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice in virtual time: one utterance at a time, its reports when they would have come. */
#include "tool/drive/cab_voice.h"

#include "talkdown/units.h"

/* A real voice process answers within a few milliseconds. */
#define ANSWER_NS (2 * TD_NS_PER_MS)
/* Length of speech that nothing was measured of: tone and breath, then so much a word, at the
 * 150 to 170 words a minute of the phrase files. */
#define TONE_MS 700
#define WORD_MS 380
/* Least pause between two prompts of a quick listen, where there was one (ours). */
#define BREATH_MS 400

static void owe(struct td_cab_voice *voice, uint32_t serial, enum td_report_kind kind,
                int64_t now_ns)
{
    if (voice->owed_count == TD_CAB_OWED_MAX)
        return; /* the core has one prompt out at a time: cannot happen */
    voice->owed[voice->owed_count++] = (struct td_report){serial, kind};
    voice->owed_ns = now_ns + ANSWER_NS;
}

static int64_t modelled_ms(const struct td_cab_voice *voice, enum td_prompt_id id,
                           const char *words)
{
    int64_t count = 1;
    for (const char *at = words; *at != '\0'; at++)
        count += *at == ' ';
    int64_t length_ms = TONE_MS + WORD_MS * count;
    int64_t most_ms = voice->speech_ms != NULL ? voice->speech_ms[id] : 0;
    return most_ms > 0 && length_ms > most_ms ? most_ms : length_ms;
}

enum td_result td_cab_voice_speak(struct td_cab_voice *voice, const struct td_prompt *prompt,
                                  const char *words, int64_t now_ns, struct td_problem *problem)
{
    int64_t starts_ns = now_ns + voice->delay_ms * TD_NS_PER_MS;
    if (voice->busy || starts_ns > prompt->expires_ns) {
        owe(voice, prompt->serial, TD_REPORT_DROPPED, now_ns);
        return TD_OK;
    }
    int64_t length_ms = modelled_ms(voice, prompt->id, words);
    if (voice->synth != NULL) {
        enum td_result result =
            td_synth_say(voice->synth, prompt->category, words, &voice->clip, problem);
        if (result != TD_OK)
            return result;
        length_ms = (int64_t)(voice->clip.count * 1000 / TD_SOUND_RATE_HZ) + 1;
    }
    voice->busy = true;
    voice->started = false;
    voice->prompt = *prompt;
    voice->starts_ns = starts_ns;
    voice->ends_ns = starts_ns + length_ms * TD_NS_PER_MS;
    return TD_OK;
}

void td_cab_voice_drop(struct td_cab_voice *voice, uint32_t serial, int64_t now_ns)
{
    owe(voice, serial, TD_REPORT_DROPPED, now_ns);
}

/* Words stay whole and at their own pace; what lies between them shrinks. A clip begins at its time
 * divided by the speed, but not before the one before it has ended and a breath has passed: so the
 * sound runs late in a busy minute and is in time again after it. */
static int64_t place_ms(const struct td_cab_voice *voice)
{
    int64_t own_ms = (voice->starts_ns - voice->start_ns) / TD_NS_PER_MS;
    if (voice->speed <= 1)
        return own_ms;
    int64_t pause_ms = voice->laid_ns != 0 ? (voice->starts_ns - voice->laid_ns) / TD_NS_PER_MS : 0;
    int64_t after_ms = voice->laid_ms + (pause_ms < BREATH_MS ? pause_ms : BREATH_MS);
    own_ms /= voice->speed;
    return own_ms > after_ms ? own_ms : after_ms;
}

/* Puts what was heard of the clip on the timeline and forgets it. */
static enum td_result lay_down(struct td_cab_voice *voice, size_t samples,
                               struct td_problem *problem)
{
    enum td_result result = TD_OK;
    if (voice->sink != NULL && samples > 0) {
        int64_t at_ms = place_ms(voice);
        int64_t length_ms = (int64_t)(samples * 1000 / TD_SOUND_RATE_HZ) + 1;
        result = td_sink_put(voice->sink, at_ms, &voice->clip, samples, problem);
        voice->laid_ms = at_ms + length_ms;
        voice->laid_ns = voice->starts_ns + length_ms * TD_NS_PER_MS;
    }
    if (voice->synth != NULL)
        td_sound_clip_free(&voice->clip);
    voice->clip = (struct td_sound_clip){0};
    voice->busy = false;
    return result;
}

enum td_result td_cab_voice_cut(struct td_cab_voice *voice, uint32_t serial, int64_t now_ns,
                                struct td_problem *problem)
{
    if (!voice->busy || voice->prompt.serial != serial || now_ns >= voice->ends_ns)
        return TD_OK; /* too late: ENDED is on its way */
    size_t samples = 0;
    if (voice->started) {
        int64_t heard_ms = (now_ns - voice->starts_ns) / TD_NS_PER_MS;
        samples = (size_t)(heard_ms * TD_SOUND_RATE_HZ / 1000);
        if (samples > voice->clip.count)
            samples = voice->clip.count;
    }
    owe(voice, serial, TD_REPORT_CUT, now_ns);
    return lay_down(voice, samples, problem);
}

int64_t td_cab_voice_next_ns(const struct td_cab_voice *voice)
{
    int64_t next_ns = voice->owed_count > 0 ? voice->owed_ns : INT64_MAX;
    if (voice->busy) {
        int64_t own_ns = voice->started ? voice->ends_ns : voice->starts_ns;
        next_ns = own_ns < next_ns ? own_ns : next_ns;
    }
    return next_ns;
}

static void report(struct td_input *input, uint32_t serial, enum td_report_kind kind)
{
    if (input->report_count < TD_REPORTS_MAX)
        input->reports[input->report_count++] = (struct td_report){serial, kind};
}

enum td_result td_cab_voice_report(struct td_cab_voice *voice, int64_t now_ns,
                                   struct td_input *input, bool *heard, struct td_prompt *prompt,
                                   struct td_problem *problem)
{
    *heard = false;
    if (voice->owed_count > 0 && voice->owed_ns <= now_ns) {
        for (unsigned i = 0; i < voice->owed_count; i++)
            report(input, voice->owed[i].serial, voice->owed[i].kind);
        voice->owed_count = 0;
    }
    if (voice->busy && !voice->started && voice->starts_ns <= now_ns) {
        voice->started = true;
        report(input, voice->prompt.serial, TD_REPORT_STARTED);
    }
    if (voice->busy && voice->started && voice->ends_ns <= now_ns) {
        report(input, voice->prompt.serial, TD_REPORT_ENDED);
        *heard = true;
        *prompt = voice->prompt;
        return lay_down(voice, voice->clip.count, problem);
    }
    return TD_OK;
}

static int64_t end_at_ms(const struct td_cab_voice *voice, int64_t end_ns)
{
    int64_t end_ms = (end_ns - voice->start_ns) / TD_NS_PER_MS;
    if (voice->speed > 1)
        end_ms /= voice->speed;
    return end_ms > voice->laid_ms ? end_ms : voice->laid_ms;
}

double td_cab_voice_length_s(const struct td_cab_voice *voice, int64_t end_ns)
{
    return voice->sink != NULL ? (double)end_at_ms(voice, end_ns) / 1000 : 0;
}

enum td_result td_cab_voice_close(struct td_cab_voice *voice, int64_t end_ns,
                                  struct td_problem *problem)
{
    enum td_result result = TD_OK;
    if (voice->busy)
        result = lay_down(voice, 0, problem);
    if (voice->sink != NULL) {
        int64_t end_ms = end_at_ms(voice, end_ns);
        enum td_result closed =
            td_sink_close(&voice->sink, end_ms, result == TD_OK ? problem : NULL);
        result = result == TD_OK ? closed : result;
    }
    td_synth_close(&voice->synth);
    return result;
}
