/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Elevation tiles by GDAL. Each tile stays open; a place is looked for in one after the other. The
 * only file that knows GDAL's types. */
#include "io/tiles.h"

#include <cpl_conv.h>
#include <cpl_error.h>
#include <dirent.h>
#include <gdal.h>
#include <math.h>
#include <ogr_srs_api.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "io/problem.h"
#include "talkdown/units.h"

enum { PATH_MOST = 4096 };

struct tile {
    GDALDatasetH data;
    GDALRasterBandH band;
    OGRCoordinateTransformationH to_tile; /* from longitude and latitude; NULL: it has those */
    double from_place[6];                 /* to column and row */
    int columns, rows;
    bool has_hole;
    double hole, scale, offset_m;
};

struct td_tiles {
    struct tile tiles[TD_TILES_MAX];
    size_t count;
};

bool td_tiles_there(void)
{
    return true;
}

static enum td_result wrong(const char *path, const char *words, struct td_problem *problem)
{
    return td_problem_set(problem, TD_INVALID, path, 0, "%s", words);
}

/* WGS 84 in the order longitude, latitude, whatever the authority's own order is. */
static OGRSpatialReferenceH wgs84(void)
{
    OGRSpatialReferenceH made = OSRNewSpatialReference(NULL);
    if (made != NULL && OSRImportFromEPSG(made, 4326) == OGRERR_NONE)
        OSRSetAxisMappingStrategy(made, OAMS_TRADITIONAL_GIS_ORDER);
    return made;
}

static enum td_result find_place(struct tile *tile, const char *path, struct td_problem *problem)
{
    double transform[6];
    if (GDALGetGeoTransform(tile->data, transform) != CE_None ||
        !GDALInvGeoTransform(transform, tile->from_place))
        return wrong(path, "does not say where it lies; SRTM tiles keep their name (N46E008.hgt)",
                     problem);
    OGRSpatialReferenceH there = GDALGetSpatialRef(tile->data);
    if (there == NULL)
        return TD_OK; /* nothing said: degrees, as in SRTM */
    OGRSpatialReferenceH here = wgs84();
    enum td_result result = TD_OK;
    if (here != NULL && !OSRIsSame(here, there)) {
        OGRSpatialReferenceH ordered = OSRClone(there);
        OSRSetAxisMappingStrategy(ordered, OAMS_TRADITIONAL_GIS_ORDER);
        tile->to_tile = OCTNewCoordinateTransformation(here, ordered);
        OSRDestroySpatialReference(ordered);
        if (tile->to_tile == NULL)
            result = wrong(path, "is in a coordinate system that is not known here; save it as "
                                 "WGS 84 (EPSG:4326)",
                           problem);
    }
    OSRDestroySpatialReference(here);
    return result;
}

static double unit_m(GDALRasterBandH band)
{
    const char *unit = GDALGetRasterUnitType(band);
    bool feet = unit != NULL &&
                (strncasecmp(unit, "ft", 2) == 0 || strncasecmp(unit, "foot", 4) == 0 ||
                 strncasecmp(unit, "feet", 4) == 0);
    return feet ? TD_M_PER_FT : 1;
}

static enum td_result open_tile(struct td_tiles *tiles, const char *path,
                                struct td_problem *problem)
{
    if (tiles->count == TD_TILES_MAX)
        return td_problem_set(problem, TD_FULL, path, 0, "is one tile too many; %d are the most",
                              (int)TD_TILES_MAX);
    struct tile *tile = &tiles->tiles[tiles->count];
    *tile = (struct tile){0};
    tile->data = GDALOpen(path, GA_ReadOnly);
    if (tile->data == NULL)
        return wrong(path, "is no elevation tile that GDAL reads; SRTM (.hgt) or GeoTIFF is right",
                     problem);
    tiles->count++;
    if (GDALGetRasterCount(tile->data) != 1)
        return wrong(path, "has several bands, so it is a picture; one band of heights is right",
                     problem);
    tile->band = GDALGetRasterBand(tile->data, 1);
    tile->columns = GDALGetRasterXSize(tile->data);
    tile->rows = GDALGetRasterYSize(tile->data);
    int has = 0;
    tile->hole = GDALGetRasterNoDataValue(tile->band, &has);
    tile->has_hole = has != 0;
    tile->scale = GDALGetRasterScale(tile->band, &has);
    tile->scale = (has != 0 ? tile->scale : 1) * unit_m(tile->band);
    tile->offset_m = GDALGetRasterOffset(tile->band, &has);
    tile->offset_m = (has != 0 ? tile->offset_m : 0) * unit_m(tile->band);
    return find_place(tile, path, problem);
}

static bool is_tile_name(const char *name)
{
    static const char *const endings[] = {".hgt", ".tif", ".tiff"};
    for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
        size_t length = strlen(name), end = strlen(endings[i]);
        if (length > end && strcasecmp(name + length - end, endings[i]) == 0)
            return true;
    }
    return false;
}

static enum td_result open_folder(struct td_tiles *tiles, const char *path, DIR *folder,
                                  struct td_problem *problem)
{
    char inner[PATH_MOST];
    enum td_result result = TD_OK;
    struct dirent *entry;
    while (result == TD_OK && (entry = readdir(folder)) != NULL) {
        if (!is_tile_name(entry->d_name))
            continue;
        if (snprintf(inner, sizeof inner, "%s/%s", path, entry->d_name) >= (int)sizeof inner)
            return wrong(path, "is too long a path; move the tiles", problem);
        result = open_tile(tiles, inner, problem);
    }
    if (result == TD_OK && tiles->count == 0)
        return td_problem_set(problem, TD_NOT_FOUND, path, 0,
                              "holds no elevation tile; files that end in .hgt, .tif or .tiff are "
                              "looked for");
    return result;
}

enum td_result td_tiles_open(const char *path, struct td_tiles **tiles, struct td_problem *problem)
{
    struct td_tiles *made = calloc(1, sizeof *made);
    if (made == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to read it");
    struct stat about;
    enum td_result result = TD_OK;
    GDALAllRegister();
    CPLPushErrorHandler(CPLQuietErrorHandler); /* our own words say what is wrong */
    if (stat(path, &about) != 0) {
        result = td_problem_set(problem, TD_NOT_FOUND, path, 0,
                                "No such file or folder; name a tile or a folder of them");
    } else if (!S_ISDIR(about.st_mode)) {
        result = open_tile(made, path, problem);
    } else {
        DIR *folder = opendir(path);
        result = folder == NULL ? td_problem_set(problem, TD_IO, path, 0, "cannot be read")
                                : open_folder(made, path, folder, problem);
        if (folder != NULL)
            (void)closedir(folder);
    }
    CPLPopErrorHandler();
    if (result == TD_OK)
        *tiles = made;
    else
        td_tiles_close(&made);
    return result;
}

/* The four heights round a place, 0 to 1 across and down between them. */
static bool read_four(const struct tile *tile, double column, double row, double heights[4],
                      double *across, double *down)
{
    /* A place less than half a cell outside the outermost heights still lies on the tile. */
    if (!(column >= -0.5 && row >= -0.5 && column <= tile->columns - 0.5 &&
          row <= tile->rows - 0.5) ||
        tile->columns < 2 || tile->rows < 2)
        return false;
    int left = (int)fmin(fmax(floor(column), 0), tile->columns - 2);
    int top = (int)fmin(fmax(floor(row), 0), tile->rows - 2);
    if (GDALRasterIO(tile->band, GF_Read, left, top, 2, 2, heights, 2, 2, GDT_Float64, 0, 0) !=
        CE_None)
        return false;
    for (int i = 0; i < 4; i++)
        if (!isfinite(heights[i]) || (tile->has_hole && fabs(heights[i] - tile->hole) < 0.5))
            return false;
    *across = fmin(fmax(column - left, 0), 1);
    *down = fmin(fmax(row - top, 0), 1);
    return true;
}

static bool height_in(const struct tile *tile, double lat_deg, double lon_deg, double *height_m)
{
    double x = lon_deg, y = lat_deg, column = 0, row = 0, four[4], across = 0, down = 0;
    if (tile->to_tile != NULL && !OCTTransform(tile->to_tile, 1, &x, &y, NULL))
        return false;
    double from_place[6]; /* GDAL 3.6 takes no const */
    memcpy(from_place, tile->from_place, sizeof from_place);
    GDALApplyGeoTransform(from_place, x, y, &column, &row);
    /* Columns and rows count from a cell's corner, heights stand in its middle. */
    if (!read_four(tile, column - 0.5, row - 0.5, four, &across, &down))
        return false;
    double above = four[0] + across * (four[1] - four[0]);
    double below = four[2] + across * (four[3] - four[2]);
    *height_m = (above + down * (below - above)) * tile->scale + tile->offset_m;
    return true;
}

bool td_tiles_height(const struct td_tiles *tiles, double lat_deg, double lon_deg,
                     double *height_m)
{
    bool found = false;
    CPLPushErrorHandler(CPLQuietErrorHandler);
    for (size_t i = 0; i < tiles->count && !found; i++)
        found = height_in(&tiles->tiles[i], lat_deg, lon_deg, height_m);
    CPLPopErrorHandler();
    return found;
}

size_t td_tiles_count(const struct td_tiles *tiles)
{
    return tiles->count;
}

void td_tiles_close(struct td_tiles **tiles)
{
    if (tiles == NULL || *tiles == NULL)
        return;
    for (size_t i = 0; i < (*tiles)->count; i++) {
        if ((*tiles)->tiles[i].to_tile != NULL)
            OCTDestroyCoordinateTransformation((*tiles)->tiles[i].to_tile);
        GDALClose((*tiles)->tiles[i].data);
    }
    free(*tiles);
    *tiles = NULL;
}
