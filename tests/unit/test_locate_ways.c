/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ways that trucks take onto, along and off a hill, and the roads beside it. */
#include "support/cm.h"

#include "support/drive.h"

static struct road hill, second, road;
static struct drive drive;

static void begin(double sigma_m, double rate_hz, unsigned long seed)
{
    drive_begin(&drive, sigma_m, rate_hz, seed);
    drive_put(&drive, 0, &hill);
}

/* 2.4 km of approach, 4 km of 7 % with a bend of 20 degrees each 500 m, 800 m of run-out. */
static void draw_hill(void)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 2400, 20, 0.0, 20);
    for (int i = 0; i < 8; i++)
        road_add(&hill, 500, i % 2 ? 20 : -20, 0.07, 20);
    road_add(&hill, 800, 0, 0.0, 20);
    road_done(&hill);
}

/* A level road that comes from the side, runs beside the grade `aside_m` off it for 400 m on the
 * same course, and leaves again: it must not get the hill's ceiling. */
static long drive_level_neighbour(double aside_m, double sigma_m, bool tells_sigma, bool height,
                                  unsigned long seed)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 2400, 0, 0.0, 20);
    road_add(&hill, 4000, 0, 0.07, 20);
    road_done(&hill);
    double turn_m = 80 * td_rad_from_deg(60), in_m = 80 * sin(td_rad_from_deg(60));
    double off_m = 80 * (1 - cos(td_rad_from_deg(60)));
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 3200 - in_m - 400 * cos(td_rad_from_deg(60)),
               aside_m + off_m + 400 * sin(td_rad_from_deg(60)), 1450, -60);
    road_add(&road, 400, 0, 0.0, 20);
    road_add(&road, turn_m, 60, 0.0, 5);
    road_add(&road, 400, 0, 0.0, 20);
    road_add(&road, turn_m, 60, 0.0, 5);
    road_add(&road, 800, 0, 0.0, 20);
    road_done(&road);
    begin(sigma_m, 1.0, seed);
    drive.tells_sigma = tells_sigma;
    drive.tells_height = height;
    drive_road(&drive, &road, 0, 0, road.hill.length_m - 10, 15, 0);
    return drive.on_hill;
}

static void a_level_neighbour_gets_no_ceiling(void **state)
{
    int told = 0, told_blind = 0;
    (void)state;
    for (unsigned long seed = 0; seed < 40; seed++)
        for (int tells = 0; tells < 2; tells++)
            for (double aside = 8; aside <= 20; aside += 4) {
                told += drive_level_neighbour(aside, tells ? 3.0 : 5.0, tells, true, seed) > 0;
                told_blind +=
                    drive_level_neighbour(aside, tells ? 3.0 : 5.0, tells, false, seed) > 0;
            }
    printf("a level road 8 to 20 m beside 7 %% for 400 m: taken for the hill %d times of 320; "
           "without heights %d times\n", told, told_blind);
    assert_true(told <= 5); /* a height does wander by as much, in one drive of forty */
    assert_true(told_blind > 0); /* else nothing was tried */
}

/* A pass: one hill down each side, each one's approach the other's way up. */
static void a_pass_has_two_hills(void **state)
{
    (void)state;
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0); /* west to east */
    road_add(&hill, 2000, 40, -0.07, 20);
    road_add(&hill, 500, -20, 0.0, 20);
    road_add(&hill, 3000, 60, 0.07, 20);
    road_done(&hill);
    memset(&second, 0, sizeof second); /* the same road the other way */
    second.count = hill.count;
    for (size_t i = 0; i < hill.count; i++)
        second.stations[i] = hill.stations[hill.count - 1 - i];
    road_done(&second);
    for (unsigned long seed = 0; seed < 10; seed++)
        for (int way = 0; way < 2; way++) {
            begin(4.0, 1.0, seed);
            drive_put(&drive, 1, &second);
            drive_road(&drive, way ? &second : &hill, way ? 2 : 1, 0, 5400, 15, 0);
            assert_int_equal(drive.wrong, 0);
            assert_true(drive.first_on_m >= 0 && drive.first_on_m < 400);
            /* Round at the foot and up again: told as the other one, whose way it is. */
            long wrong = drive.wrong + 4; /* until it has gone 40 m the other way */
            drive_road(&drive, way ? &hill : &second, way ? 1 : 2, 100, 2000, 12, 0);
            assert_true(drive.wrong <= wrong);
            assert_int_equal(td_located_now(&drive.locator).handle, way ? 1 : 2);
        }
}

/* The first profile ends exactly where the next begins. */
static void a_hill_ends_where_the_next_begins(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 2500, 0);
    road_add(&road, 2000, 30, 0.0, 20);
    road_add(&road, 2500, -30, 0.07, 20);
    road_add(&road, 2500, 30, 0.06, 20);
    road_add(&road, 500, 0, 0.0, 20);
    road_done(&road);
    memset(&hill, 0, sizeof hill);
    memset(&second, 0, sizeof second);
    hill.count = 226;
    memcpy(hill.stations, road.stations, hill.count * sizeof road.stations[0]);
    second.count = road.count - 225;
    memcpy(second.stations, road.stations + 225, second.count * sizeof road.stations[0]);
    road_done(&hill);
    road_done(&second);
    double end_m = hill.hill.length_m, most_m = 0.0;
    for (unsigned long seed = 0; seed < 10; seed++) {
        begin(3.0, 1.0, seed);
        drive_put(&drive, 1, &second);
        drive_road(&drive, &road, 1, 0, end_m - 10, 18, 0);
        assert_int_equal(drive.wrong, 0);
        drive.first_on_m = -1.0;
        drive.wrong = 0;
        for (double from = end_m; from < end_m + 600 && drive.first_on_m < 0; from += 18) {
            drive_road(&drive, &road, 0, from, from + 1, 18, 0);
            if (td_located_now(&drive.locator).handle == 2)
                drive.first_on_m = from;
        }
        assert_true(drive.first_on_m > 0);
        assert_near(td_located_now(&drive.locator).along_m, drive.first_on_m - end_m, 25);
        most_m = fmax(most_m, drive.first_on_m - end_m);
    }
    printf("a hill that begins where another ends: told after at most %.0f m\n", most_m);
    assert_true(most_m < 560);
}

static void joining_in_the_middle_of_the_grade(void **state)
{
    double most_m = 0.0;
    (void)state;
    draw_hill();
    for (unsigned long seed = 0; seed < 20; seed++)
        for (int side = -1; side <= 1; side += 2) {
            begin(4.0, 1.0, seed);
            double lat, lon, track;
            drive_place(&hill, 3500, 1, 0, &lat, &lon, &track);
            road_begin(&second, lat, lon, 0, 0, hill.stations[175].elevation_m + 5,
                       90 - track + side * 80);
            road_add(&second, 500, 0, -0.01, 20); /* drawn from the joint outward */
            road_done(&second);
            drive_road(&drive, &second, 0, 490, 0, 10, 0);
            assert_int_equal(drive.on_hill, 0);
            drive_road(&drive, &hill, 1, 3500, 5500, 14, 0);
            assert_int_equal(drive.wrong, 0);
            assert_true(drive.first_on_m > 0);
            most_m = fmax(most_m, drive.first_on_m - 3500);
        }
    printf("joined in the middle: told after at most %.0f m\n", most_m);
    assert_true(most_m < 560);
}

/* A whole turn in the road: 15 m wide, at walking to jogging pace. */
static void a_turn_round_ends_it(void **state)
{
    (void)state;
    draw_hill();
    for (unsigned long seed = 0; seed < 10; seed++) {
        begin(3.0, 1.0, seed);
        drive_road(&drive, &hill, 1, 0, 3500, 15, 0);
        double lat, lon, track;
        drive_place(&hill, 3500, 1, 0, &lat, &lon, &track);
        road_begin(&second, lat, lon, 0, 0, 1430, 90 - track);
        road_add(&second, 7.5 * TD_PI, 180, 0.0, 2);
        road_add(&second, 600, 0, -0.07, 20);
        road_done(&second);
        drive_road(&drive, &second, 0, 0, 110, 3, 0);
        assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
        long told = drive.on_hill;
        drive_road(&drive, &second, 0, 110, 590, 8, 0);
        assert_int_equal(drive.on_hill, told);
    }
}

/* In a queue down the hill at walking pace, its course all noise: the hill stays told and the place
 * true; and a truck that creeps off by a side road is off it. */
static void walking_pace(void **state)
{
    static const double speeds[] = {0.4, 0.8, 1.2, 1.7};
    (void)state;
    draw_hill();
    for (size_t i = 0; i < 4; i++) {
        begin(4.0, 1.0, 50 + i);
        drive.wrong_m = 30.0;
        drive_road(&drive, &hill, 1, 0, 3000, 15, 0);
        drive_road(&drive, &hill, 1, 3000, 3200, speeds[i], 0);
        assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
        assert_int_equal(drive.wrong, 0);
        double lat, lon, track;
        drive_place(&hill, 3200, 1, 0, &lat, &lon, &track);
        road_begin(&second, lat, lon, 0, 0, 1440, 90 - track + 70);
        road_add(&second, 300, 0, 0.0, 20);
        road_done(&second);
        drive_road(&drive, &second, 0, 0, 180, speeds[i], 0);
        if (drive_where(&drive) != TD_WHERE_OFF_FILE)
            fail_msg("%.1f m/s: still %s", speeds[i], td_where_name(drive_where(&drive)));
    }
}

/* 7 km of tunnel on the hill: lost within its limit, once, nothing told in it, and back soon. */
static void a_tunnel_of_seven_kilometres(void **state)
{
    double most_m = 0.0, latest_s = 0.0;
    (void)state;
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 2400, 20, 0.0, 20);
    for (int i = 0; i < 24; i++)
        road_add(&hill, 500, i % 2 ? 40 : -40, 0.05, 20);
    road_done(&hill);
    for (unsigned long seed = 0; seed < 20; seed++) {
        begin(4.0, 1.0, seed);
        drive_road(&drive, &hill, 1, 0, 3000, 16, 0);
        int losses = 0;
        enum td_where before = drive_where(&drive);
        for (int s = 1; s <= 7000 / 16; s++) {
            drive_tick(&drive, 1.0);
            enum td_where now = drive_where(&drive);
            if (now == TD_WHERE_LOST && before != now) {
                losses++;
                latest_s = fmax(latest_s, s);
            }
            assert_true(now == TD_WHERE_LOST || losses == 0);
            before = now;
        }
        assert_int_equal(losses, 1);
        drive.first_on_m = -1.0;
        drive_road(&drive, &hill, 1, 10000, 10600, 16, 0);
        assert_true(drive.first_on_m > 0);
        assert_int_equal(drive.wrong, 0);
        most_m = fmax(most_m, drive.first_on_m - 10000);
    }
    printf("tunnel of 7 km: lost after at most %.0f s, told again after at most %.0f m\n", latest_s,
           most_m);
    assert_true(latest_s <= 20 && most_m <= 200);
}

/* A level road over and beside the grade, crossing it at 8 degrees by a bridge. */
static void a_road_stacked_over_the_grade(void **state)
{
    int told = 0;
    (void)state;
    for (unsigned long seed = 0; seed < 40; seed++) {
        road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
        road_add(&hill, 2400, 0, 0.0, 20);
        road_add(&hill, 4000, 0, 0.07, 20);
        road_done(&hill);
        double slant = td_rad_from_deg(8);
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 3600 - 1000 * cos(slant),
                   -1000 * sin(slant), 1450, 8);
        road_add(&road, 2000, 0, 0.0, 20);
        road_done(&road);
        begin(4.0, 1.0, seed);
        drive_road(&drive, &road, 0, 0, 1990, 18, 0);
        told += drive.on_hill > 0;
    }
    assert_int_equal(told, 0);
}

/* Slowly off by a sharp turn, and gathering speed on the side road: until that is noticed the coach
 * must not take the truck to be under way again down the hill. */
static void turning_off_is_not_setting_off(void **state)
{
    (void)state;
    draw_hill();
    double most_mps = 0.0;
    for (unsigned long seed = 0; seed < 20; seed++)
        for (int turn = 50; turn <= 130; turn += 20) {
            begin(1.0 + (double)(seed % 5), 1.0, seed);
            drive_road(&drive, &hill, 1, 0, 2000, 12, 0);
            for (double slower = 11; slower > 3.5; slower -= 1.0)
                drive_road(&drive, &hill, 1, 2100 - 9 * slower, 2109 - 9 * slower, slower, 0);
            const struct td_station *fork = &hill.stations[td_hill_station_at(&hill.hill, 2073)];
            road_begin(&road, fork->lat_deg, fork->lon_deg, 0, 0, 1500, 17 - turn);
            road_add(&road, 400, 0, 0.0, 10);
            road_done(&road);
            for (double faster = 3.5; faster < 9 && drive_where(&drive) == TD_WHERE_ON_HILL;
                 faster += 0.7) {
                double from_m = 10 + 14 * (faster - 3.5) / 0.7;
                drive_road(&drive, &road, 0, from_m, from_m + 14, faster, 0);
                if (drive_where(&drive) == TD_WHERE_ON_HILL && from_m > 20)
                    most_mps = fmax(most_mps, td_located_now(&drive.locator).speed_mps / faster);
            }
        }
    printf("turned off sharply: at most %.2f of the speed counts along the hill\n", most_mps);
    assert_true(most_mps < 0.75);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_level_neighbour_gets_no_ceiling),
        cmocka_unit_test(a_pass_has_two_hills),
        cmocka_unit_test(a_hill_ends_where_the_next_begins),
        cmocka_unit_test(joining_in_the_middle_of_the_grade),
        cmocka_unit_test(a_turn_round_ends_it),
        cmocka_unit_test(turning_off_is_not_setting_off),
        cmocka_unit_test(walking_pace),
        cmocka_unit_test(a_tunnel_of_seven_kilometres),
        cmocka_unit_test(a_road_stacked_over_the_grade),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
