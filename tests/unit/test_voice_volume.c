/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The volume has a floor (MIL-STD-1472E 5.3.6.4.1: a control must not reach the inaudible) and,
 * where a setting asks for it, two steps 6 dB apart (NUREG-0700: levels that tell something apart
 * differ by at least 6 dB). */
#include "support/cm.h"

#include <stdbool.h>

#include "voice/voice.h"
#include "voice/volume.h"

static void it_never_goes_below_its_floor(void **state)
{
    (void)state;
    assert_int_equal(td_voice_volume_held(-1), 40);
    assert_int_equal(td_voice_volume_held(39), 40);
    assert_int_equal(td_voice_volume_held(55), 55);
    assert_int_equal(td_voice_volume_held(1000), 100);
}

static void one_step_with_speed(void **state)
{
    (void)state;
    bool louder = true;
    assert_int_equal(td_voice_volume_at(100, 20, 20, &louder), 100);
    assert_int_equal(td_voice_volume_at(100, 20, 18.5, &louder), 100); /* does not flutter */
    assert_int_equal(td_voice_volume_at(100, 20, 17.9, &louder), 50);
    assert_int_equal(td_voice_volume_at(100, 20, 19.9, &louder), 50);
    assert_int_equal(td_voice_volume_at(100, 20, 20.1, &louder), 100);
    assert_near(20 * log10(100.0 / 50.0), 6, 0.03);
    louder = false;
    assert_int_equal(td_voice_volume_at(100, 20, (double)NAN, &louder), 100); /* not known */
    /* Both steps are above the floor from the least volume on that the settings take. */
    assert_int_equal(td_voice_volume_at(TD_VOICE_VOLUME_STEPPED_LEAST, 20, 0, &louder), 40);
}

static void without_the_setting_it_is_one(void **state)
{
    (void)state;
    bool louder = true;
    assert_int_equal(td_voice_volume_at(60, 0, 0, &louder), 60);
    assert_int_equal(td_voice_volume_at(60, 0, 30, &louder), 60);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_never_goes_below_its_floor),
        cmocka_unit_test(one_step_with_speed),
        cmocka_unit_test(without_the_setting_it_is_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
