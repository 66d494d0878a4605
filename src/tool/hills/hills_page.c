/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page of what is on board: cards as wide as a phone, as many beside each other as there is
 * room. No script, nothing from elsewhere; thousands of cards are laid out only when they come into
 * view (content-visibility in the style). */
#include "tool/hills/hills_page.h"

#include <stdio.h>
#include <stdlib.h>

#include "io/library_file.h"
#include "io/problem.h"
#include "tool/card/card_parts.h"
#include "tool/hills/hills.h"
#include "tool/hills/hills_picture.h"
#include "tool/out_file.h"
#include "tool/progress.h"
#include "tool/tool.h"

struct page {
    const struct td_hills_page_options *options;
    FILE *to;
    struct td_svg html; /* of the part at hand */
    struct td_progress progress;
    size_t hills, unread;
};

/* Writes what has grown and begins anew in the same memory. */
static enum td_result send(struct page *page, struct td_problem *problem)
{
    struct td_svg *html = &page->html;
    if (html->failed)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the page");
    if (html->length > 0 && fwrite(html->bytes, 1, html->length, page->to) != html->length)
        return td_problem_set(problem, TD_IO, page->options->out, 0, "could not be written");
    html->length = 0;
    return TD_OK;
}

static void key_shape(struct td_svg *html, enum td_place_kind kind, unsigned has,
                      const char *words)
{
    const struct td_place place = {.kind = kind, .has = has};
    td_svg_raw(html, "<span><svg class=\"shape\" viewBox=\"0 0 18 18\" aria-hidden=\"true\">");
    td_card_symbol(html, &place, 9, 9);
    td_svg_raw(html, "</svg> ");
    td_svg_raw(html, words);
    td_svg_raw(html, "</span>\n");
}

static void key_line(struct td_svg *html, double width, const char *words)
{
    td_svg_raw(html, "<span><svg class=\"wide\" viewBox=\"0 0 28 18\" aria-hidden=\"true\">"
                     "<line x1=\"1\" y1=\"9\" x2=\"27\" y2=\"9\" stroke=\"#000\" stroke-width=\"");
    td_svg_number(html, width);
    td_svg_raw(html, "\"/></svg> ");
    td_svg_raw(html, words);
    td_svg_raw(html, "</span>\n");
}

static void key_hatch(struct td_svg *html, int step, const char *words)
{
    td_svg_raw(html, "<span><svg class=\"wide\" viewBox=\"0 0 28 18\" aria-hidden=\"true\">");
    td_svg_rect(html, 1, 2, 26, 14, td_card_hatch(step));
    td_svg_raw(html, "</svg> ");
    td_svg_raw(html, words);
    td_svg_raw(html, "</span>\n");
}

static void write_key(struct td_svg *html)
{
    td_svg_raw(html, "<div class=\"key\">\n");
    key_line(html, 4, "crest to foot, arrows the way down");
    key_line(html, 1.5, "before the crest, past the foot");
    key_shape(html, TD_PLACE_ESCAPE_LANE, 0, "escape lane");
    key_shape(html, TD_PLACE_ESCAPE_LANE, TD_PLACE_CLOSED, "escape lane, closed");
    key_shape(html, TD_PLACE_BRAKE_CHECK, 0, "brake check");
    key_shape(html, TD_PLACE_BRAKE_CHECK, TD_PLACE_MANDATORY, "brake check, all must stop");
    key_hatch(html, 0, "to 3 % down");
    key_hatch(html, 1, "to 5 %");
    key_hatch(html, 2, "to 7 %");
    key_hatch(html, 3, "steeper");
    td_svg_raw(html, "</div>\n");
}

/* Of a library also how many hills, which revision and whether it is signed; what is wrong with it
 * is told when its hills are visited. */
static void write_source(struct td_svg *html, const char *path)
{
    struct td_library_file *library = NULL;
    char text[128], revision[32] = "no revision";
    td_svg_escaped(html, path);
    if (!td_library_file_is(path) || td_library_file_open(path, &library, NULL) != TD_OK)
        return;
    if (td_library_file_revision(library) > 0)
        (void)snprintf(revision, sizeof revision, "revision %u",
                       td_library_file_revision(library));
    (void)snprintf(text, sizeof text, " (%zu hills, %s, %s)", td_library_file_count(library),
                   revision,
                   td_library_file_signature(library) != NULL
                       ? "carries a signature that was not checked here"
                       : "unsigned");
    td_svg_raw(html, text);
    td_library_file_close(&library);
}

static void write_head(struct page *page)
{
    struct td_svg *html = &page->html;
    td_svg_raw(html, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                     "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                     "<title>Hills on board</title>\n<style>\n");
    td_svg_raw(html, td_hills_page_css);
    td_svg_raw(html, "</style>\n</head>\n<body>\n<svg class=\"defs\" aria-hidden=\"true\">");
    td_card_hatches(html);
    td_svg_raw(html, "</svg>\n<header>\n<h1>Hills on board</h1>\n<p>From ");
    for (size_t i = 0; i < page->options->count; i++) {
        td_svg_raw(html, i > 0 ? ", " : "");
        write_source(html, page->options->paths[i]);
    }
    td_svg_raw(html, ". Maps are to scale, north up; heights fill their strip.</p>\n");
    write_key(html);
    td_svg_raw(html, "</header>\n<main>\n");
}

static void open_card(struct page *page, const char *kind)
{
    char text[64];
    (void)snprintf(text, sizeof text, "<article class=\"%s\" id=\"h%zu\">\n<h2>", kind,
                   page->hills);
    td_svg_raw(&page->html, text);
}

static void write_card(struct page *page, const struct td_hill_file *file, const char *name)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    bool metric = page->options->metric;
    struct td_svg *html = &page->html;
    char text[96];
    open_card(page, "hill");
    td_svg_escaped(html, hill->name);
    td_svg_raw(html, "</h2>\n<p class=\"facts\">");
    td_hill_headline(html, hill, metric);
    td_svg_raw(html, "</p>\n");
    size_t left_out = td_hill_picture_draw(hill, metric, html);
    if (left_out > 0) {
        (void)snprintf(text, sizeof text,
                       "<p class=\"loss\">%zu mark%s had no room in the picture</p>\n", left_out,
                       left_out == 1 ? "" : "s");
        td_svg_raw(html, text);
    }
    td_hill_facts(html, file, name, metric);
    td_svg_raw(html, "</article>\n");
}

static void write_unread(struct page *page, const char *name, const struct td_problem *problem)
{
    char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 24];
    page->unread++;
    td_progress_end(&page->progress);
    (void)td_tool_fail(problem);
    open_card(page, "hill unread");
    td_svg_escaped(&page->html, name);
    td_svg_raw(&page->html, "</h2>\n<p class=\"facts\">Could not be read: nothing is known of "
                            "it</p>\n<p>");
    td_svg_escaped(&page->html, td_problem_line(problem, line, sizeof line));
    td_svg_raw(&page->html, "</p>\n</article>\n");
}

static enum td_result visit(void *context, const struct td_hill_visit *visit,
                            struct td_problem *problem)
{
    struct page *page = context;
    if (visit->result == TD_NO_MEMORY) {
        *problem = *visit->problem;
        return visit->result;
    }
    td_progress_at(&page->progress, ++page->hills, 0);
    if (visit->result != TD_OK)
        write_unread(page, visit->name, visit->problem);
    else
        write_card(page, visit->file, visit->name);
    return send(page, problem);
}

static void write_foot(struct page *page)
{
    char text[160];
    td_svg_raw(&page->html, "</main>\n<footer>\n<p>");
    (void)snprintf(text, sizeof text, "%zu hills", page->hills - page->unread);
    td_svg_raw(&page->html, text);
    if (page->unread > 0) {
        (void)snprintf(text, sizeof text, "; %zu could not be read", page->unread);
        td_svg_raw(&page->html, text);
    }
    td_svg_raw(&page->html, ". As on file, not as the road is today: posted signs, the law and "
                            "the driver come first.</p>\n</footer>\n</body>\n</html>\n");
}

static enum td_result write_page(struct page *page, struct td_problem *problem)
{
    const struct td_hills_page_options *options = page->options;
    write_head(page);
    enum td_result result = send(page, problem);
    td_progress_begin(&page->progress, "hills drawn:");
    for (size_t i = 0; result == TD_OK && i < options->count; i++) {
        struct td_problem wrong = {0};
        size_t before = page->hills;
        result = td_hills_visit(options->paths[i], visit, page, &wrong);
        if (result == TD_NOT_FOUND || (result != TD_OK && page->hills == before)) {
            page->hills++; /* the path itself could not be looked at */
            write_unread(page, options->paths[i], &wrong);
            result = send(page, &wrong);
        }
        if (result != TD_OK)
            *problem = wrong;
    }
    td_progress_end(&page->progress);
    if (result != TD_OK)
        return result;
    write_foot(page);
    return send(page, problem);
}

int td_hills_page(const struct td_hills_page_options *options)
{
    struct page page = {.options = options};
    struct td_problem problem = {0};
    struct td_out_file out;
    enum td_result result = td_out_file_open(&out, options->out, options->force, &problem);
    page.to = out.to;
    if (result == TD_OK)
        result = write_page(&page, &problem);
    result = td_out_file_close(&out, result, &problem);
    free(page.html.bytes);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    (void)printf("%s: %zu hills\n", options->out, page.hills - page.unread);
    return page.unread > 0 ? TD_EXIT_ERROR : TD_EXIT_DONE;
}
