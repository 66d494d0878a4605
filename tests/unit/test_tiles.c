/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heights out of tiles that the test writes from a known surface: an SRTM tile by hand (big-endian
 * 16-bit metres, rows from the north, name by its south-west corner: the SRTM documentation), and
 * the same as GeoTIFF in degrees and in UTM by GDAL's own programs. The outside check of single
 * cells is gdallocationinfo. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/tiles.h"

enum { CELLS = 1201 };

static char folder[] = "tiles-XXXXXX";

static double surface_m(double lat_deg, double lon_deg)
{
    return round(800 + 300 * sin(lat_deg * 40) + 200 * cos(lon_deg * 55));
}

/* S48W129: 48 to 47 degrees south, 129 to 128 west. One hole at the middle cell. */
static void write_srtm(void)
{
    char path[64];
    (void)snprintf(path, sizeof path, "%s/S48W129.hgt", folder);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    for (int row = 0; row < CELLS; row++)
        for (int column = 0; column < CELLS; column++) {
            double z = surface_m(-47 - row / 1200.0, -129 + column / 1200.0);
            int value = row == 600 && column == 600 ? -32768 : (int)z;
            unsigned char bytes[2] = {(unsigned char)((unsigned)value >> 8 & 0xff),
                                      (unsigned char)((unsigned)value & 0xff)};
            assert_int_equal(fwrite(bytes, 1, 2, file), 2);
        }
    assert_int_equal(fclose(file), 0);
}

static int begin(void **state)
{
    (void)state;
    if (!td_tiles_there()) {
        print_message("SKIPPED: built without GDAL\n");
        exit(77);
    }
    assert_non_null(mkdtemp(folder));
    write_srtm();
    return 0;
}

static int end(void **state)
{
    (void)state;
    char command[128];
    (void)snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command);
}

static struct td_tiles *open_tiles(const char *name)
{
    char path[128];
    (void)snprintf(path, sizeof path, "%s%s", folder, name);
    struct td_tiles *tiles = NULL;
    struct td_problem problem = {0};
    if (td_tiles_open(path, &tiles, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return tiles;
}

/* Largest difference from the surface over a walk across the tile, away from the hole. */
static double most_off_m(const struct td_tiles *tiles)
{
    double most = 0;
    for (int i = 0; i < 400; i++) {
        double lat = -47.02 - 0.0011 * i, lon = -128.95 + 0.0009 * i, height_m = 0;
        assert_true(td_tiles_height(tiles, lat, lon, &height_m));
        most = fmax(most, fabs(height_m - surface_m(lat, lon)));
    }
    return most;
}

static void a_place_between_four_heights(void **state)
{
    (void)state;
    struct td_tiles *tiles = open_tiles("/S48W129.hgt");
    double height_m = 0, north = -47 - 100 / 1200.0, west = -129 + 200 / 1200.0;
    assert_true(td_tiles_height(tiles, north, west, &height_m));
    assert_near(height_m, surface_m(north, west), 1e-6);
    double a = surface_m(north, west), b = surface_m(north, west + 1 / 1200.0);
    double c = surface_m(north - 1 / 1200.0, west);
    double d = surface_m(north - 1 / 1200.0, west + 1 / 1200.0);
    assert_true(td_tiles_height(tiles, north - 0.25 / 1200, west + 0.5 / 1200, &height_m));
    assert_near(height_m, 0.75 * (a + b) / 2 + 0.25 * (c + d) / 2, 1e-4);
    assert_true(most_off_m(tiles) < 1.5); /* whole metres on file, and the surface's bend */
    /* A hole is none, and so is the next tile. */
    assert_false(td_tiles_height(tiles, -47.5 + 1e-5, -128.5 + 1e-5, &height_m));
    assert_false(td_tiles_height(tiles, -46.9, -128.5, &height_m));
    assert_false(td_tiles_height(tiles, (double)NAN, -128.5, &height_m));
    td_tiles_close(&tiles);
}

/* gdallocationinfo tells a cell's height by column and row. */
static void cells_are_those_of_gdal(void **state)
{
    (void)state;
    if (system("gdallocationinfo --version >/dev/null 2>&1") != 0) {
        print_message("SKIPPED: gdallocationinfo not there\n");
        skip();
    }
    struct td_tiles *tiles = open_tiles("/S48W129.hgt");
    for (int i = 0; i < 5; i++) {
        int column = 17 + 230 * i, row = 1150 - 210 * i;
        char command[256], line[64] = "";
        (void)snprintf(command, sizeof command, "gdallocationinfo -valonly %s/S48W129.hgt %d %d",
                       folder, column, row);
        FILE *answer = popen(command, "r");
        assert_non_null(answer);
        assert_non_null(fgets(line, sizeof line, answer));
        assert_int_equal(pclose(answer), 0);
        double height_m = 0;
        assert_true(td_tiles_height(tiles, -47 - row / 1200.0, -129 + column / 1200.0, &height_m));
        assert_near(height_m, strtod(line, NULL), 1e-6);
    }
    td_tiles_close(&tiles);
}

static void geotiff_in_degrees_and_in_utm(void **state)
{
    (void)state;
    char command[600];
    (void)snprintf(command, sizeof command,
                   "mkdir %s/deg %s/utm && gdal_translate -q -of GTiff %s/S48W129.hgt "
                   "%s/deg/a.tif && gdalwarp -q -r cubic -t_srs EPSG:32709 %s/deg/a.tif "
                   "%s/utm/a.tif 2>%s/log",
                   folder, folder, folder, folder, folder, folder, folder);
    if (system(command) != 0) {
        print_message("SKIPPED: gdal_translate or gdalwarp not there\n");
        skip();
    }
    struct td_tiles *degrees = open_tiles("/deg"), *utm = open_tiles("/utm");
    assert_int_equal(td_tiles_count(degrees), 1);
    assert_true(most_off_m(degrees) < 1.5);
    assert_true(most_off_m(utm) < 3);
    td_tiles_close(&degrees);
    td_tiles_close(&utm);
}

static void says_what_is_wrong(void **state)
{
    (void)state;
    struct td_tiles *tiles = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_tiles_open("none-there", &tiles, &problem), TD_NOT_FOUND);
    assert_int_equal(td_tiles_open(TD_SOURCE_DIR "/docs", &tiles, &problem), TD_NOT_FOUND);
    assert_non_null(strstr(problem.text, "holds no elevation tile"));
    assert_int_equal(td_tiles_open(TD_SOURCE_DIR "/README.md", &tiles, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "is no elevation tile that GDAL reads"));
    assert_null(tiles);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_place_between_four_heights),
        cmocka_unit_test(cells_are_those_of_gdal),
        cmocka_unit_test(geotiff_in_degrees_and_in_utm),
        cmocka_unit_test(says_what_is_wrong),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
